"""The way of the data, from orders to plan. Whoever has read this file has seen the program.

::

    range file, order book -> panels -> demand per material -> packing -> verify -> plan
"""

from __future__ import annotations

import datetime
import hashlib
import math
import threading
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import PurePath

from nesting import __version__
from nesting.catalogue import Range
from nesting.errors import NestingError
from nesting.gluing import glue_notes, spare_notes, taken_apart
from nesting.issued import verify_issue
from nesting.lots import Cut, by_lot, nothing_cut, split_products
from nesting.model import (
    Demand,
    GluedLayer,
    Layout,
    Material,
    MaterialPlan,
    Plan,
    RollMaterial,
    StockPiece,
    StockUse,
)
from nesting.onroll import choose, on_roll, problem_on
from nesting.orders import OrderBook, demand_by_material
from nesting.packing import Answer, BlockProblem, Problem, Report, solve, verify
from nesting.reports.statistics import account, remnants_of
from nesting.requests import problem_for
from nesting.rests import solve_with_rests
from nesting.sawcheck import check_foam_plan
from nesting.spreading import issue
from nesting.substitution import in_place_of

__all__ = ["Budget", "Watch", "make_marker", "make_plan", "plan_material"]

GLUE_WORK = 3.0
"""Times the work for a material whose slabs may be glued up: every choice of gluing is planned by itself."""

LEAST_EFFORT = 1.0
"""Work for a material that is taken up after the person asked to stop."""


@dataclass(frozen=True, slots=True)
class Budget:
    """How much work one material may cost; one whose slabs may be glued up, `GLUE_WORK` times as much.

    With `seconds` None the plan depends on input, effort and seed alone, whatever the machine and
    however many workers.
    """

    effort: float = 300.0
    seconds: float | None = None
    seed: int = 0
    workers: int = 1


class Watch:
    """Told how a plan comes along; override what is wanted. Called from several threads."""

    def started(self, material: Material, pieces: int) -> None:
        """A material is taken up."""

    def report(self, material: Material, report: Report) -> None:
        """Word from a running search."""

    def finished(self, plan: MaterialPlan) -> None:
        """A material is done and verified."""


def make_plan(
    range_: Range,
    book: OrderBook,
    *,
    materials: Sequence[str] | None = None,
    budget: Budget | None = None,
    watch: Watch | None = None,
    stock: Mapping[str, Sequence[StockPiece]] | None = None,
    new: bool = True,
    today: datetime.date | None = None,
) -> Plan:
    """Plan a stretch of an order book.

    Parameters
    ----------
    materials
        Keys of the materials to plan; None for all that are needed.
    stock
        What stands on the shelf, free to be used, by key of the material.
    new
        Whether new material may be used as well.
    today
        Date printed on the plan; None for today's.

    Returns
    -------
    Plan
        Verified. What cannot be cut is listed as missing in its material's plan. KeyboardInterrupt
        ends the searches, not the plan: it returns with the best that was found until then.
    """
    budget = budget or Budget()
    watch = watch or Watch()
    demand = demand_by_material(range_, book.lines)
    wanted = [key for key in range_.materials if key in demand and (materials is None or key in materials)]
    stop = threading.Event()
    shelf = stock or {}

    def one(key: str) -> MaterialPlan:
        material = range_.materials[key]
        return plan_material(material, demand[key], budget, watch, stop, shelf.get(key, ()), new=new)

    # Threads, not processes: the kernels and solvers run outside the interpreter lock, compiled code is
    # shared, and one event stops them all. The largest demands start first.
    order = sorted(wanted, key=lambda key: -sum(d.quantity for d in demand[key]))
    with ThreadPoolExecutor(max_workers=budget.workers) as pool:
        running = {key: pool.submit(one, key) for key in order}
        plans = {key: _result(future.result, stop) for key, future in running.items()}
    return _plan(
        range_,
        book.file,
        [line.due.isoformat() for line in book.lines],
        sum(line.quantity for line in book.lines),
        tuple(plans[key] for key in wanted),
        budget.seed,
        today,
    )


def make_marker(
    range_: Range,
    demands: Sequence[Demand],
    roll: StockPiece,
    *,
    source: str,
    instead_of: str | None = None,
    whole_beds: bool = False,
    budget: Budget | None = None,
    watch: Watch | None = None,
    today: datetime.date | None = None,
) -> Plan:
    """Plan the best use of one roll: what is due first is cut from it, the rest stays open.

    Parameters
    ----------
    demands
        What is wanted of the roll's material, or of `instead_of`.
    roll
        The roll, with its measured sizes and flaws.
    source
        Where the demands come from: name of a file.
    instead_of
        Key of the material that the pieces are meant for, where the roll is of another one.
    whole_beds
        Cut all pieces that a bed needs of this material, or none; always so where the material wants one lot.

    Returns
    -------
    Plan
        Verified, of one material. It has no layouts when nothing fits.

    Raises
    ------
    NestingError
        When the material of the roll is none on rolls.
    """
    budget, watch = budget or Budget(), watch or Watch()
    material = _roll_material(range_, roll.material)
    notes: tuple[str, ...] = ()
    if instead_of is not None and instead_of != material.key:
        demands, notes = in_place_of(demands, _roll_material(range_, instead_of), material)
    watch.started(material, sum(demand.quantity for demand in demands))
    chosen = choose(
        material,
        demands,
        roll,
        effort=budget.effort,
        seed=budget.seed,
        seconds=budget.seconds,
        whole_beds=whole_beds,
    )
    answer = chosen.answer or Answer(layouts=(), value=0.0, bound=0.0, stopped="proved")
    if chosen.answer is not None:
        verify(problem_on(material, chosen.demands, roll), answer)
    if material.one_lot:
        notes += split_products(chosen.demands, [item.demand for item in chosen.open], roll)
    cut = Cut(chosen.demands, on_roll(answer, roll), (roll,), new=False)
    plan = replace(_settle(material, [cut], notes), open=chosen.open)
    watch.finished(plan)
    due = [share.due for demand in chosen.demands or demands for share in demand.orders]
    return _plan(range_, source, due, chosen.beds, (plan,), budget.seed, today)


def _roll_material(range_: Range, key: str) -> RollMaterial:
    material = range_.materials.get(key) or range_.find_material(key)
    if not isinstance(material, RollMaterial):
        raise NestingError(f"{material.name} comes as {material.kind}s: give a material on rolls.")
    return material


def _plan(
    range_: Range,
    source: str,
    due: Sequence[str],
    beds: int,
    materials: tuple[MaterialPlan, ...],
    seed: int,
    today: datetime.date | None,
) -> Plan:
    """A plan with its number."""
    made = (today or datetime.date.today()).isoformat()
    plan = Plan(
        range_name=range_.name,
        range_file=PurePath(range_.file).name,
        orders_file=PurePath(source).name,
        currency=range_.currency,
        made=made,
        version=__version__,
        seed=seed,
        first_due=min(due, default=""),
        last_due=max(due, default=""),
        beds=beds,
        materials=materials,
    )
    # The number says what is cut: how maps are written does not come into it.
    return replace(plan, number=hashlib.sha256(repr(plan).encode()).hexdigest()[:8], workshop=range_.workshop)


def _result(wait: Callable[[], MaterialPlan], stop: threading.Event) -> MaterialPlan:
    """Wait for a result; the first KeyboardInterrupt tells all searches to stop and waits on."""
    try:
        return wait()
    except KeyboardInterrupt:
        if stop.is_set():
            raise
        stop.set()
        return wait()


def plan_material(
    material: Material,
    demands: tuple[Demand, ...],
    budget: Budget,
    watch: Watch,
    stop: threading.Event,
    stock: Sequence[StockPiece] = (),
    *,
    new: bool = True,
) -> MaterialPlan:
    """Plan one material, verify the layouts and add them up.

    Parameters
    ----------
    stock
        What is on the shelf of this material.
    new
        Whether new material may be used as well.
    """
    watch.started(material, sum(demand.quantity for demand in demands))

    def progress(report: Report) -> None:
        if stop.is_set() and report.value < math.inf:
            raise KeyboardInterrupt
        watch.report(material, report)

    glued: list[GluedLayer] = []

    def cut(
        demands: tuple[Demand, ...], stock: Sequence[StockPiece], *, new: bool, share: float = 1.0
    ) -> Cut:
        if not new and not stock:
            return nothing_cut(demands, "nothing of it is on the shelf")
        problem = problem_for(material, demands, stock, new=new)
        effort = budget.effort * share
        if any(demand.panel.glue is not None for demand in demands):
            effort *= GLUE_WORK
        # Once stopped, what has not begun still gets the quickest complete plan.
        if stop.is_set():
            effort = min(effort, LEAST_EFFORT)

        def run(problem: Problem, part: float) -> Answer:
            seconds = None if budget.seconds is None else budget.seconds * part
            return solve(
                problem, time_limit=seconds, effort=effort * part, seed=budget.seed, progress=progress
            )

        answer = solve_with_rests(problem, run) if isinstance(problem, BlockProblem) else run(problem, 1.0)
        verify(problem, answer)
        parts, layouts, layers = taken_apart(demands, problem, answer)
        glued.extend(layers)
        return Cut(parts, replace(answer, layouts=layouts), tuple(stock), new)

    notes: tuple[str, ...] = tuple(spare_notes(demands))
    if isinstance(material, RollMaterial) and material.one_lot:
        cuts, more = by_lot(material, demands, stock, cut, new=new)
        notes += more
    else:
        cuts = [cut(demands, stock, new=new)]
    plan = _settle(material, cuts, (*notes, *glue_notes(glued)))
    plan = replace(plan, glued=tuple(glued))
    check_foam_plan(plan)
    watch.finished(plan)
    return plan


def _settle(material: Material, cuts: Sequence[Cut], notes: tuple[str, ...]) -> MaterialPlan:
    """From answers to a plan: which piece is cut when, what it adds up to, what is left."""
    layouts: list[Layout] = []
    uses: list[StockUse] = []
    shelf: list[StockPiece] = []
    saved = 0.0
    for cut in cuts:
        answer = cut.answer
        issued = issue(material, cut.demands, answer.layouts, cut.stock, new=cut.new)
        wanted: Counter[str] = Counter()
        for layout in answer.layouts:
            for placement in layout.placements:
                wanted[placement.key] += layout.repeats
        verify_issue(material, cut.demands, issued.layouts, issued.uses, cut.stock, wanted)
        uses += [
            replace(use, cuts=tuple((index + len(layouts), plies) for index, plies in use.cuts))
            for use in issued.uses
        ]
        layouts += issued.layouts
        shelf += issued.shelf(cut.stock)
        saved += issued.saved
    demands = tuple(demand for cut in cuts for demand in cut.demands)
    remnants = remnants_of(material, layouts, uses, demands, shelf)
    if isinstance(material, RollMaterial):
        ends = {use.name for use in uses}
        kept = [remnant.source for remnant in remnants if remnant.source not in ends]
        notes += tuple(f"Keep the sound stretch of {source}." for source in kept)
    return MaterialPlan(
        material=material,
        demands=demands,
        layouts=tuple(layouts),
        missing={key: missing for cut in cuts for key, missing in cut.answer.missing.items()},
        stock=tuple(uses),
        remnants=remnants,
        figures=account(
            material,
            demands,
            layouts,
            uses,
            value=sum(cut.answer.value for cut in cuts) - saved,
            bound=sum(cut.answer.bound for cut in cuts),
            shelf=shelf,
        ),
        stopped=next((cut.answer.stopped for cut in cuts if cut.answer.stopped != "proved"), "proved"),
        effort=sum(cut.answer.effort for cut in cuts),
        notes=tuple(dict.fromkeys((*notes, *(note for cut in cuts for note in cut.answer.notes)))),
        shelf=tuple(shelf),
    )
