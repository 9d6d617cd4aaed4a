"""The verifier lets right racks pass and names every fault of wrong ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from nesting.errors import LayoutError, ProblemError
from nesting.packing import Answer, Flaw, Layout, Piece, Placement, RackProblem, Roll, verify

FLAWED = Roll("old", 1000, 3000, 2.0, 2, (Flaw(1000, 1100), Flaw(2000, 2010, 0, 300)))
PROBLEM = RackProblem(
    (Roll("new", 1500, cost=4.0), FLAWED),
    (Piece.rectangle("a", 400, 500, 9, (0,)),),
    gap=10,
    max_marker_length=900,
    end_loss=20,
)


def pair(y: float = 0.0) -> tuple[Placement, ...]:
    """Two side by side: 500 + 10 + 500 = 1010 of 1500."""
    return (Placement("a", 0, y), Placement("a", 0, y + 510))


def right() -> Answer:
    """By hand: two pairs on the new roll, and on each old one two behind one another and one beside a flaw.

    400 + 20 + 400 = 820 and 20 behind it end at 840, before the flaw at 1000. The third lies from 1700 to
    2100 above the flaw, which reaches to y 300.
    Cost: 2 x 420 x 0.004 + 4 x 420 x 0.002 + 1 x 420 x 0.002 = 3.36 + 3.36 + 0.84 = 7.56.
    """
    return Answer(
        layouts=(
            Layout("new", pair(), 400, 2),
            Layout("old", (Placement("a", 0, 0),), 400, 4, start=0, stock_number=1, stock_count=2),
            Layout("old", (Placement("a", 0, 300),), 400, 1, start=1700, stock_number=2),
        ),
        value=7.56,
        bound=5.0,
    )


def changed(number: int, **fields: object) -> Callable[[Answer], Answer]:
    """The answer with some fields of one layout (from 1) changed."""

    def change(answer: Answer) -> Answer:
        layouts = list(answer.layouts)
        layouts[number - 1] = replace(layouts[number - 1], **fields)  # type: ignore[arg-type]
        return replace(answer, layouts=tuple(layouts))

    return change


def test_the_right_answer_passes() -> None:
    verify(PROBLEM, right())
    # Behind the flaws two fit exactly: 2160 + 400 + 20 + 400 + 20 = 3000.
    verify(PROBLEM, changed(2, start=2160)(right()))


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (changed(1, stock_key="lost"), "cut from 'lost', which is not in stock"),
        (changed(1, start=5.0), "has a place on 'new', which has no end"),
        (changed(1, stock_number=2), "has a place on 'new', which has no end"),
        (changed(1, placements=pair(491)), "reaches to y 1501, but the usable area ends at 1500"),
        (changed(1, placements=(*pair()[:1], Placement("a", 0, 509))), "9 mm apart"),
        (changed(1, length=901), "is 901 mm long; a marker may be at most 900 mm"),
        (changed(2, start=-1.0), "starts at -1.0; it must be 0 or more"),
        (changed(2, start=float("nan")), "starts at nan"),
        (changed(2, stock_number=0), "the number of the roll must be a whole number"),
        (changed(2, stock_count=0), "the number of rolls must be a whole number"),
        (changed(2, stock_number=2), "lies on roll 3 of 'old'; there are 2"),
        (changed(2, repeats=5), "is cut 5 times, which 2 rolls cannot share evenly"),
        (changed(2, start=2161), "reaches to 3001 of 'old', which ends at 3000"),
        (
            changed(2, start=2110),
            "Layout 2: and layout 3 are 10 mm apart on roll 2 of 'old'; they must keep 20",
        ),
        (changed(2, start=181), "'a' at x 0, y 0 lies on the flaw from 1000 to 1100"),
        (changed(3, start=2581), "reaches to 3001 of 'old', which ends at 3000"),
        (changed(3, placements=(Placement("a", 0, 299),)), "lies on the flaw from 2000 to 2010"),
        (changed(3, placements=(Placement("a", 0, 501),)), "reaches to y 1001"),
        (changed(3, start=1609, placements=(Placement("a", 0, 0),)), "lies on the flaw from 2000"),
        (
            lambda answer: replace(answer, value=7.0),
            "its value is given as 7, but its layouts add up to 7.56",
        ),
        (lambda answer: replace(answer, bound=8.0), "its bound 8 is not between 0 and its value"),
        (lambda answer: replace(answer, layouts=answer.layouts[:2]), "places 8 and misses 0 of 'a'"),
    ],
)
def test_every_fault_is_named(change: Callable[[Answer], Answer], fault: str) -> None:
    with pytest.raises(LayoutError, match=fault):
        verify(PROBLEM, change(right()))


def test_a_piece_may_touch_a_flaw() -> None:
    """From 600 to 1000, and from 2010 on below y 300: edges meet, nothing overlaps."""
    touching = (
        Layout("old", (Placement("a", 0, 0),), 400, start=560),
        Layout("old", (Placement("a", 0, 0),), 400, start=2010),
    )
    problem = replace(PROBLEM, pieces=(Piece.rectangle("a", 400, 500, 2, (0,)),))
    verify(problem, Answer(layouts=touching, value=1.68, bound=1.0))
    edge = replace(touching[0], start=600.0)
    verify(problem, Answer(layouts=(edge, touching[1]), value=1.68, bound=1.0))


def test_the_true_outline_may_lie_beside_a_flaw_that_its_box_meets() -> None:
    """A right triangle of 400: a flaw in the free half of its box is no fault, one in the other half is."""
    triangle = Piece.polygon("t", [(0, 0), (400, 0), (0, 400)], 1, (0,))
    layout = Layout("r", (Placement("t", 0, 0),), 400)
    for flaw, good in ((Flaw(300, 400, 300, 400), True), (Flaw(100, 200, 100, 200), False)):
        problem = RackProblem((Roll("r", 400, 400, 1.0, 1, (flaw,)),), (triangle,))
        answer = Answer(layouts=(layout,), value=0.4, bound=0.1)
        if good:
            verify(problem, answer)
        else:
            with pytest.raises(LayoutError, match="lies on the flaw"):
                verify(problem, answer)


def test_stages_hold_for_racks() -> None:
    """Free placement is no answer where edge-to-edge cuts are asked."""
    with pytest.raises(LayoutError, match="no cut tree"):
        verify(replace(PROBLEM, stages=2), right())


@pytest.mark.parametrize(
    ("make", "fault"),
    [
        (lambda: Roll("r", 0), "width must be above 0"),
        (lambda: Roll("r", 100, 0), "length must be above 0"),
        (lambda: Roll("r", 100, cost=0), "cost must be above 0"),
        (lambda: Roll("r", 100, 100, available=-1), "available must be a whole number"),
        (lambda: Roll("r", 100, available=3), "only a roll with a length may have available"),
        (lambda: Roll("r", 100, flaws=(Flaw(1, 2),)), "only a roll with a length may have flaws"),
        (lambda: Flaw(2, 2), "must end beyond its start"),
        (lambda: Flaw(-1, 2), "flaw x0 must be 0 or more"),
        (lambda: Flaw(1, 2, 5, 5), "must end beyond its start"),
        (lambda: Flaw(1, 2, 0, float("nan")), "flaw y1 must be above 0"),
        (lambda: replace(PROBLEM, rolls=()), "at least one roll"),
        (lambda: replace(PROBLEM, rolls=(FLAWED, FLAWED)), "'old' is listed twice"),
        (lambda: replace(PROBLEM, gap=-1), "gap must be 0 or more"),
        (lambda: replace(PROBLEM, end_loss=-1), "end_loss must be 0 or more"),
        (lambda: replace(PROBLEM, max_marker_length=0), "max_marker_length must be above 0"),
        (lambda: replace(PROBLEM, stages=4), "stages must be"),
    ],
)
def test_senseless_racks_are_refused(make: Callable[[], object], fault: str) -> None:
    with pytest.raises(ProblemError, match=fault):
        make()
