"""The way of the data, from orders to plan. Whoever has read this file has seen the program.

::

    range file, order book -> panels -> demand per material -> packing -> verify -> plan
"""

from __future__ import annotations

import datetime
import hashlib
import math
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import PurePath

from nesting import __version__
from nesting.catalogue import Range
from nesting.gluing import glue_notes, spare_notes, taken_apart
from nesting.model import Demand, Layout, Material, MaterialPlan, Plan, RollMaterial, StockPiece, StockUse
from nesting.orders import OrderBook, demand_by_material
from nesting.packing import Answer, Problem, Report, solve, verify
from nesting.reports.statistics import account, remnants_of
from nesting.requests import problem_for
from nesting.spreading import issue_bars, issue_rolls

__all__ = ["Budget", "Watch", "make_plan", "plan_material"]

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
    today: datetime.date | None = None,
) -> Plan:
    """Plan a stretch of an order book.

    Parameters
    ----------
    materials
        Keys of the materials to plan; None for all that are needed.
    stock
        What stands on the shelf, free to be used, by key of the material.
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
        return plan_material(range_.materials[key], demand[key], budget, watch, stop, shelf.get(key, ()))

    # Threads, not processes: the kernels and solvers run outside the interpreter lock, compiled code is
    # shared, and one event stops them all. The largest demands start first.
    order = sorted(wanted, key=lambda key: -sum(d.quantity for d in demand[key]))
    with ThreadPoolExecutor(max_workers=budget.workers) as pool:
        running = {key: pool.submit(one, key) for key in order}
        plans = {key: _result(future.result, stop) for key, future in running.items()}
    due = [line.due for line in book.lines]
    plan = Plan(
        range_name=range_.name,
        range_file=PurePath(range_.file).name,
        orders_file=PurePath(book.file).name,
        currency=range_.currency,
        made=(today or datetime.date.today()).isoformat(),
        version=__version__,
        seed=budget.seed,
        first_due=min(due).isoformat(),
        last_due=max(due).isoformat(),
        beds=sum(line.quantity for line in book.lines),
        materials=tuple(plans[key] for key in wanted),
    )
    return replace(plan, number=hashlib.sha256(repr(plan).encode()).hexdigest()[:8])


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
) -> MaterialPlan:
    """Plan one material, verify the layouts and add them up."""
    watch.started(material, sum(demand.quantity for demand in demands))

    def progress(report: Report) -> None:
        if stop.is_set() and report.value < math.inf:
            raise KeyboardInterrupt
        watch.report(material, report)

    problem = problem_for(material, demands, stock)
    effort = budget.effort
    if any(demand.panel.glue is not None for demand in demands):
        effort *= GLUE_WORK
    # Once stopped, what has not begun still gets the quickest complete plan.
    if stop.is_set():
        effort = min(effort, LEAST_EFFORT)
    answer = solve(problem, time_limit=budget.seconds, effort=effort, seed=budget.seed, progress=progress)
    verify(problem, answer)
    plan = _settle(material, demands, problem, answer)
    watch.finished(plan)
    return plan


def _settle(
    material: Material, demands: tuple[Demand, ...], problem: Problem, answer: Answer
) -> MaterialPlan:
    """From an answer to a plan: what is glued, which roll is cut when, what it adds up to, what is left."""
    notes = (*answer.notes, *spare_notes(demands))
    demands, layouts, glued = taken_apart(demands, problem, answer)
    stock: tuple[StockUse, ...] = ()
    if isinstance(material, RollMaterial):
        if material.process == "lengths":
            stock = issue_bars(material, layouts, [_end(layout, demands) for layout in layouts])
        else:
            stock = issue_rolls(material, layouts)
    return MaterialPlan(
        material=material,
        demands=demands,
        layouts=layouts,
        missing=dict(answer.missing),
        stock=stock,
        remnants=remnants_of(material, layouts, stock),
        figures=account(material, demands, layouts, stock, value=answer.value, bound=answer.bound),
        stopped=answer.stopped,
        effort=answer.effort,
        notes=(*notes, *glue_notes(glued)),
        glued=glued,
    )


def _end(layout: Layout, demands: tuple[Demand, ...]) -> float:
    """Where the last length on a bar ends, mm."""
    length_of = {demand.key: demand.panel.length for demand in demands}
    return max(placement.x + length_of[placement.key] for placement in layout.placements)
