"""Planning many small cases: in threads, each only once, and with a clean end."""

from __future__ import annotations

import datetime
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TypeVar

from nesting.catalogue import Range
from nesting.comparing.results import Outcome, Unit
from nesting.errors import InputError
from nesting.model import BlockMaterial, Demand, Material, RollMaterial, SheetMaterial
from nesting.orders import OrderLine, demand_by_material
from nesting.packing import Answer, Report, solve, verify
from nesting.requests import problem_for

__all__ = ["Lab", "demands_of"]

_In = TypeVar("_In")
_Out = TypeVar("_Out")

ANY_DAY = datetime.date(2000, 1, 1)
"""Nothing here depends on when beds are due."""


def demands_of(range_: Range, unit: Unit, material: str) -> tuple[Demand, ...]:
    """What beds need of one material.

    Raises
    ------
    InputError
        When a panel cannot be made.
    """
    lines = [
        OrderLine(order="", due=ANY_DAY, model_key=model, size_key=size, quantity=count, row=1)
        for model, size, count in unit.beds
    ]
    return demand_by_material(range_, lines).get(material, ())


class Lab:
    """Plans beds of changed ranges, and remembers what it has planned.

    Parameters
    ----------
    material
        Key of the material that is planned.
    seed, workers
        As for `nesting.planning.Budget`.
    planned
        Called after each plan with how many were made.
    """

    def __init__(
        self, material: str, *, seed: int = 0, workers: int = 1, planned: Callable[[int], None] | None = None
    ) -> None:
        self.material = material
        self._seed, self._workers = seed, workers
        self._planned = planned or (lambda count: None)
        self._known: dict[tuple[Material, tuple[Demand, ...]], tuple[float, Answer]] = {}
        self._stop = threading.Event()
        self._lock = threading.Lock()
        self._count = 0

    def each(self, task: Callable[[_In], _Out], items: Iterable[_In]) -> list[_Out]:
        """The task done for every item, several side by side; KeyboardInterrupt ends all searches."""
        pool = ThreadPoolExecutor(max_workers=self._workers)
        try:
            return list(pool.map(task, items))
        except BaseException:
            self._stop.set()
            raise
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    def outcome(self, range_: Range, unit: Unit, effort: float) -> Outcome:
        """What beds of a range need of the material.

        Parameters
        ----------
        effort
            Work, in millions of steps. What was planned with as much work, or proven best, is not
            planned again.
        """
        material = range_.materials[self.material]
        try:
            demands = demands_of(range_, unit, self.material)
        except InputError as error:
            finding = error.findings[0]
            return _without_plan(material, unit.count, f"{finding.value}; allowed: {finding.allowed}")
        answer = self._answer(material, demands, effort)
        if answer.missing:
            key, missing = next(iter(answer.missing.items()))
            return _without_plan(material, unit.count, f"{key}: {missing.reason}")
        return _counted(material, unit.count, demands, answer)

    def _answer(self, material: Material, demands: tuple[Demand, ...], effort: float) -> Answer:
        key = (material, demands)
        with self._lock:
            spent, answer = self._known.get(key, (-1.0, None))
        if answer is not None and (spent >= effort or answer.stopped == "proved"):
            return answer
        if self._stop.is_set():
            raise KeyboardInterrupt

        def progress(report: Report) -> None:
            if self._stop.is_set():
                raise KeyboardInterrupt

        problem = problem_for(material, demands)
        answer = solve(problem, time_limit=None, effort=effort, seed=self._seed, progress=progress)
        if self._stop.is_set():
            raise KeyboardInterrupt
        verify(problem, answer)
        with self._lock:
            self._known[key] = (effort, answer)
            self._count += 1
            self._planned(self._count)
        return answer


def _per_stock(material: Material) -> tuple[float, float, float]:
    """Of a metre of roll, a sheet or a block: m2 or m3 in it, what people count of it, and its price."""
    if isinstance(material, RollMaterial):
        return material.width / 1e3, 1.0, material.price
    if isinstance(material, SheetMaterial):
        area = material.length * material.width / 1e6
        return area, area, material.price
    volume = material.length * material.width * material.height / 1e9
    return volume, volume, volume * material.price


def _counted(material: Material, beds: int, demands: tuple[Demand, ...], answer: Answer) -> Outcome:
    each, measure, price = _per_stock(material)
    solid = isinstance(material, BlockMaterial)
    if isinstance(material, RollMaterial):
        stock, least = answer.value / 1e3, answer.bound / 1e3
    else:
        stock = float(sum(layout.repeats for layout in answer.layouts))
        least = stock * answer.bound / answer.value if answer.value else stock
    pieces = sum((d.panel.volume if solid else d.panel.area) * d.quantity for d in demands)
    blank = _without_plan(material, beds, "")
    return replace(
        blank,
        stock=stock,
        least=least,
        each=each,
        measure=measure,
        price=price,
        pieces=pieces,
        demands=demands,
        layouts=answer.layouts,
    )


def _without_plan(material: Material, beds: int, reason: str) -> Outcome:
    each, measure, price = _per_stock(material)
    return Outcome(
        beds=beds,
        stock=0.0,
        least=0.0,
        each=each,
        measure=measure,
        price=price,
        pieces=0.0,
        unit="m" if material.kind == "roll" else "m3" if material.kind == "block" else "m2",
        reason=reason,
        material=material,
    )
