"""Keeps a search within its budget, and keeps the best that it has found."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter
from typing import Any, Generic, Literal, TypeVar

import numpy as np
import numpy.typing as npt

__all__ = ["Progress", "Report", "Search", "Stop"]

Draft = TypeVar("Draft")

REPORT_EVERY = 0.2
"""Seconds between two calls of a progress callback."""

SPREAD = 0x9E3779B97F4A7C15
"""Odd multiplier (2**64 over the golden ratio) that spreads neighbouring seeds over all states."""


class Stop(Exception):  # noqa: N818  (not an error: the ordinary end of a search)
    """Raised by `Search.spend_or_stop` when the budget is used up and there is a plan.

    Whatever an engine has offered is kept, so engines let it pass; who divides a budget with
    `Search.child` catches it and goes on with what is left.
    """


@dataclass(frozen=True, slots=True)
class Report:
    """What a progress callback is told."""

    value: float
    """Best value so far, in the unit of the answer; infinite while there is none."""
    bound: float
    """Best proven bound so far."""
    effort: int
    """Elementary steps spent so far."""


Progress = Callable[[Report], None]
"""Called from time to time during a search; may raise KeyboardInterrupt to stop it."""


@dataclass(slots=True, eq=False)
class Search(Generic[Draft]):
    """The budget, the bound and the best draft of one search.

    Values and bounds are in the unit of the engine. An engine calls `spend` after each piece of work,
    `offer` for each plan and `prove` for each bound, and stops when `over` is true.

    Parameters
    ----------
    seed
        Start of the pseudo-random search.
    time_limit
        Seconds from now; None for no limit.
    effort_limit
        Elementary steps; None for no limit.
    progress
        Called by `spend`.
    pass_on
        Told of each draft that is kept, with its value: how a child hands its drafts up.
    parent
        The search that pays for the work of this one.
    """

    seed: int = 0
    time_limit: float | None = None
    effort_limit: int | None = None
    progress: Progress | None = None
    pass_on: Callable[[float, Draft], None] | None = None
    parent: Search[Any] | None = None
    tolerance: float = 1e-6
    effort: int = 0
    bound: float = 0.0
    value: float = math.inf
    draft: Draft | None = None
    short: int = 2**62
    """Copies the best draft leaves out; as good as infinite while there is none."""
    interrupted: bool = False
    random: npt.NDArray[np.uint64] = field(init=False)
    _deadline: float = field(init=False)
    _next_report: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        self._deadline = perf_counter() + (math.inf if self.time_limit is None else self.time_limit)
        # The state of the generator must not be 0.
        self.random = np.array([((self.seed + 1) * SPREAD) % 2**64 or 1], np.uint64)

    def child(self, share: float = 1.0, pass_on: Callable[[float, Any], None] | None = None) -> Search[Any]:
        """A search for a part of the task, with a share of the effort and time that is left."""
        effort, seconds = self.effort_left, self.seconds_left
        return Search(
            seed=self.seed,
            time_limit=None if seconds == math.inf else max(0.0, seconds * share),
            effort_limit=None if effort == math.inf else int(effort * share),
            pass_on=pass_on,
            parent=self,
            tolerance=self.tolerance,
        )

    def onward(self, share: float = 1.0) -> Search[Any]:
        """A search with a share of what is left that begins with the best draft and hands better ones up."""

        def pass_on(value: float, draft: Any) -> None:
            self.offer(value, draft, short=child.short)

        child = self.child(share, pass_on)
        child.draft, child.value, child.short, child.bound = self.draft, self.value, self.short, self.bound
        return child

    def spend(self, work: int) -> None:
        """Count work done, and report progress now and then."""
        self.effort += int(work)
        if self.parent is not None:
            self.parent.spend(work)
        elif self.progress is not None and perf_counter() >= self._next_report:
            self._next_report = perf_counter() + REPORT_EVERY
            self.progress(Report(self.value, self.bound, self.effort))

    def spend_or_stop(self, work: int) -> None:
        """Count work done; end the search when that was all that could be spent.

        Raises
        ------
        Stop
            When the budget is used up and there is a plan.
        """
        self.spend(work)
        if self.used_up and self.planned:
            raise Stop

    def offer(self, value: float, draft: Draft, short: int = 0) -> bool:
        """Keep `draft` if it is better than the best so far; tell whether it was.

        `short` is the number of copies the draft leaves out: fewer is better before any value.
        """
        if (short, value) >= (self.short, self.value - self.tolerance):
            return False
        self.short, self.value, self.draft = short, value, draft
        if self.pass_on is not None:
            self.pass_on(value, draft)
        return True

    def prove(self, bound: float) -> None:
        """Raise the bound."""
        self.bound = max(self.bound, bound)

    @property
    def planned(self) -> bool:
        """There is a plan, here or in the search that this one is part of."""
        return self.draft is not None or (self.parent is not None and self.parent.planned)

    @property
    def proved(self) -> bool:
        """The best draft is complete and meets the bound."""
        return self.short == 0 and self.value <= self.bound + self.tolerance

    @property
    def over(self) -> bool:
        """Nothing more is to be done: proved, or the budget is used up."""
        return self.proved or self.used_up

    @property
    def used_up(self) -> bool:
        """The effort or the time limit has been reached."""
        return self.effort_left <= 0 or self.out_of_time

    @property
    def out_of_time(self) -> bool:
        """The time limit has passed."""
        return self.seconds_left <= 0

    @property
    def seconds_left(self) -> float:
        """Time left, s; infinite without a time limit."""
        return self._deadline - perf_counter()

    @property
    def effort_left(self) -> float:
        """Steps left; infinite without an effort limit."""
        return math.inf if self.effort_limit is None else max(0, self.effort_limit - self.effort)

    @property
    def stopped(self) -> Literal["proved", "effort", "time", "interrupted"]:
        """What ended the search."""
        if self.interrupted:
            return "interrupted"
        if self.proved:
            return "proved"
        return "time" if self.out_of_time else "effort"
