"""Keeps a search within its budget, and keeps the best that it has found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter
from typing import Any, Generic, Literal, TypeVar

import numpy as np
import numpy.typing as npt

__all__ = ["Progress", "Report", "Search"]

Draft = TypeVar("Draft")


@dataclass(frozen=True, slots=True)
class Report:
    """What a progress callback is told."""

    value: float
    """Best value so far, in the unit of the answer; infinite while there is none."""
    bound: float
    """Best proven bound so far."""
    effort: int
    """Work spent so far."""


Progress = Callable[[Report], None]
"""Called from time to time during a search; may raise KeyboardInterrupt to stop it."""


@dataclass(slots=True)
class Search(Generic[Draft]):
    """The budget, the bound and the best draft of one search.

    Values and bounds are in the unit of the answer. An engine calls `spend` after each piece of work,
    `offer` for each plan and `prove` for each bound, and stops when `over` is true.
    """

    seed: int = 0
    time_limit: float | None = None
    effort_limit: int | None = None
    progress: Progress | None = None
    tolerance: float = 1e-6
    effort: int = 0
    bound: float = 0.0
    value: float = float("inf")
    draft: Draft | None = None
    short: int = 2**62
    interrupted: bool = False
    parent: Search[Any] | None = None
    random: npt.NDArray[np.uint64] = field(init=False)
    _deadline: float = field(init=False)
    _next_report: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        self._deadline = perf_counter() + (self.time_limit if self.time_limit is not None else float("inf"))
        # Two odd multipliers spread neighbouring seeds; the state must not be 0.
        mixed = ((self.seed + 1) * 0x9E3779B97F4A7C15) % 2**64
        self.random = np.array([mixed or 1], np.uint64)

    def child(self, share: float = 1.0) -> Search[Any]:
        """A search for a part of the task, with a share of the effort and time that is left."""
        left = None if self.effort_limit is None else max(0, int((self.effort_limit - self.effort) * share))
        seconds = self.seconds_left
        return Search(
            seed=self.seed,
            time_limit=None if seconds == float("inf") else max(0.0, seconds * share),
            effort_limit=left,
            tolerance=self.tolerance,
            parent=self,
        )

    def spend(self, work: int) -> None:
        """Count work done and report progress, at most some times a second."""
        self.effort += int(work)
        if self.parent is not None:
            self.parent.spend(work)
        elif self.progress is not None and perf_counter() >= self._next_report:
            self._next_report = perf_counter() + 0.2
            self.progress(Report(self.value, self.bound, self.effort))

    def offer(self, value: float, draft: Draft, short: int = 0) -> bool:
        """Keep `draft` if it is better than the best so far; tell whether it was.

        `short` is the number of pieces the draft leaves out: fewer is better before any value.
        """
        if (short, value) >= (self.short, self.value - self.tolerance):
            return False
        self.short, self.value, self.draft = short, value, draft
        return True

    def prove(self, bound: float) -> None:
        """Raise the bound."""
        self.bound = max(self.bound, bound)

    @property
    def proved(self) -> bool:
        """The best draft is complete and meets the bound."""
        return self.short == 0 and self.value <= self.bound + self.tolerance

    @property
    def over(self) -> bool:
        """Nothing more is to be done: proved, or the budget is used up."""
        return (
            self.proved
            or (self.effort_limit is not None and self.effort >= self.effort_limit)
            or self.out_of_time
        )

    @property
    def out_of_time(self) -> bool:
        """The time limit has passed."""
        return perf_counter() >= self._deadline

    @property
    def seconds_left(self) -> float:
        """Time left, s; infinite without a time limit."""
        return self._deadline - perf_counter()

    @property
    def stopped(self) -> Literal["proved", "effort", "time", "interrupted"]:
        """What ended the search."""
        if self.interrupted:
            return "interrupted"
        if self.proved:
            return "proved"
        return "time" if self.out_of_time else "effort"
