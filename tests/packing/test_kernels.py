"""The compiled loops against plain references, each kernel both compiled and as plain Python."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing import kernels

few = settings(max_examples=40, deadline=None, derandomize=True)


def both(*names: str) -> Any:
    """Parametrise a test with kernels, first as plain Python, then compiled."""
    plain = [getattr(kernels, name).py_func for name in names]
    fast = [getattr(kernels, name) for name in names]
    return pytest.mark.parametrize("loops", [plain, fast], ids=["python", "compiled"])


def ints(values: Sequence[int]) -> np.ndarray:
    return np.array(values, np.int64)


def floats(values: Sequence[float]) -> np.ndarray:
    return np.array(values, np.float64)


# --- next_random --------------------------------------------------------------------------------------


def xorshift(word: int) -> int:
    """Marsaglia (2003), "Xorshift RNGs", section 3: 64 bits, triple (13, 7, 17)."""
    mask = 2**64 - 1
    word ^= (word << 13) & mask
    word ^= word >> 7
    word ^= (word << 17) & mask
    return word


@both("next_random")
def test_random_numbers_follow_the_published_recurrence(loops: list[Callable[..., Any]]) -> None:
    """From 1: 1 -> 8193 -> 8257 -> 1082269761 by hand; then a hundred steps in Python's integers."""
    (next_random,) = loops
    state = np.array([1], np.uint64)
    assert next_random(state) == 1082269761 // 2
    word = 1082269761
    for _ in range(100):
        word = xorshift(word)
        assert next_random(state) == word >> 1
        assert int(state[0]) == word


# --- fill_marker and search_order ---------------------------------------------------------------------

markers = st.tuples(
    st.integers(5, 30),  # width
    st.integers(5, 60),  # target
    st.lists(  # kinds: copies and one or two boxes
        st.tuples(
            st.integers(1, 4),
            st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20)), min_size=1, max_size=2),
        ),
        min_size=1,
        max_size=5,
    ),
    st.booleans(),  # each copy an entry of its own
    st.randoms(use_true_random=False),
)


def arrays(kinds: Any, single: bool) -> dict[str, np.ndarray]:
    """Entries and boxes of some kinds as the kernels take them."""
    entries = [
        (kind, 1 if single else copies)
        for kind, (copies, _) in enumerate(kinds)
        for _ in range(copies if single else 1)
    ]
    boxes = [box for _, kind_boxes in kinds for box in kind_boxes]
    return {
        "kind": ints([kind for kind, _ in entries]),
        "copies": ints([copies for _, copies in entries]),
        "start": ints(np.cumsum([0] + [len(kind_boxes) for _, kind_boxes in kinds]).tolist()),
        "dx": ints([dx for dx, _ in boxes]),
        "dy": ints([dy for _, dy in boxes]),
        "area": ints([kind_boxes[0][0] * kind_boxes[0][1] for _, kind_boxes in kinds]),
    }


def check_placements(
    made: list[tuple[int, int, int, int]], given: dict[str, np.ndarray], kinds: Any, width: int, target: int
) -> None:
    """Placements (kind, box, x, y) are inside, apart, no more than there are, each in a box of its kind."""
    for kind, box, x, y in made:
        assert given["start"][kind] <= box < given["start"][kind + 1]
        assert x >= 0
        assert x + given["dx"][box] <= target
        assert y >= 0
        assert y + given["dy"][box] <= width
    for kind, (copies, _) in enumerate(kinds):
        assert sum(other == kind for other, *_ in made) <= copies
    for n, (_, a, ax, ay) in enumerate(made):
        for _, b, bx, by in made[:n]:
            beside = ax >= bx + given["dx"][b] or bx >= ax + given["dx"][a]
            above = ay >= by + given["dy"][b] or by >= ay + given["dy"][a]
            assert beside or above


def filled(
    fill_marker: Callable[..., Any], given: dict[str, np.ndarray], order: np.ndarray, width: int, target: int
) -> tuple[Any, list[tuple[int, int, int, int]]]:
    total = int(given["copies"].sum())
    out = np.empty((4, total), np.int64)
    work = np.empty((2, total + 3), np.int64)
    after = np.empty(order.size + 1, np.int64)
    result = fill_marker(width, target, order, *given.values(), *out, *work, after)
    made = [(int(given["kind"][e]), int(b), int(x), int(y)) for e, b, x, y in out[:, : result[0]].T]
    return result, made


@both("fill_marker")
@few
@given(markers)
def test_a_filled_marker_holds_pieces_apart_and_inside(loops: list[Callable[..., Any]], case: Any) -> None:
    """No overlap, nothing beyond the edges, no copy too many; area and last edge are those of the pieces."""
    width, target, kinds, single, rng = case
    given_ = arrays(kinds, single)
    order = list(range(given_["kind"].size))
    rng.shuffle(order)
    (placed, area, top, work), made = filled(loops[0], given_, ints(order), width, target)
    assert len(made) == placed
    check_placements(made, given_, kinds, width, target)
    assert area == sum(int(given_["area"][kind]) for kind, *_ in made)
    assert top == max((x + int(given_["dx"][b]) for _, b, x, _ in made), default=0)
    assert work > 0


@few
@given(markers)
def test_compiled_and_plain_markers_are_alike(case: Any) -> None:
    """The same figures give the same placements in both."""
    width, target, kinds, single, _ = case
    given_ = arrays(kinds, single)
    order = ints(list(range(given_["kind"].size)))
    assert filled(kernels.fill_marker.py_func, given_, order, width, target) == filled(
        kernels.fill_marker, given_, order, width, target
    )


@both("fill_marker")
def test_pieces_that_fill_the_width_leave_no_hole(loops: list[Callable[..., Any]]) -> None:
    """Hand-worked: 10 wide; 6 x 10, then 4 x 4 and 4 x 6 side by side end at 6 + 4 = 10."""
    given_ = arrays([(1, [(6, 10)]), (1, [(4, 4)]), (1, [(4, 6)])], single=True)
    (placed, area, top, _), made = filled(loops[0], given_, ints([0, 1, 2]), 10, 10)
    assert (placed, area, top) == (3, 100, 10)
    assert (0, 0, 0, 0) in made
    assert sorted((x, y) for _, _, x, y in made[1:]) in ([(6, 0), (6, 4)], [(6, 0), (6, 6)])


@both("search_order")
@few
@given(markers, st.integers(1, 20))
def test_a_searched_order_is_a_valid_filling(loops: list[Callable[..., Any]], case: Any, tries: int) -> None:
    """The order stays a permutation, the best filling is valid and no worse than the first."""
    width, target, kinds, single, rng = case
    given_ = arrays(kinds, single)
    start = list(range(given_["kind"].size))
    rng.shuffle(start)
    order = ints(start)
    (_, first, _, _), _ = filled(kernels.fill_marker, given_, order, width, target)
    goal = int((given_["area"][given_["kind"]] * given_["copies"]).sum())
    out = np.empty((4, int(given_["copies"].sum())), np.int64)
    state = np.array([7], np.uint64)
    placed, area, _, work, tried = loops[0](
        width, target, goal, tries, 10**9, order, *given_.values(), state, out
    )
    assert sorted(order.tolist()) == list(range(order.size))
    assert area >= first
    assert 1 <= tried <= tries
    assert work > 0
    check_placements(
        [(int(k), int(b), int(x), int(y)) for k, b, x, y in out[:, :placed].T], given_, kinds, width, target
    )
    # The order that is handed back gives the filling that is handed back.
    assert filled(kernels.fill_marker, given_, order, width, target)[0][1] == area


@both("search_order")
def test_a_search_ends_when_its_work_is_done(loops: list[Callable[..., Any]]) -> None:
    """With next to no work allowed there is one try; with nothing to swap all tries count as made."""
    for kinds, tried in ([(1, [(3, 4)]), (1, [(5, 4)]), (1, [(4, 4)])], 1), ([(4, [(3, 4)])], 50):
        given_ = arrays(kinds, single=False)
        out = np.empty((4, int(given_["copies"].sum())), np.int64)
        order = ints(list(range(given_["kind"].size)))
        state = np.array([1], np.uint64)
        most_work = 1 if tried == 1 else 10**9
        assert loops[0](5, 8, 10**9, 50, most_work, order, *given_.values(), state, out)[4] == tried


# --- Knapsacks ----------------------------------------------------------------------------------------

knapsacks = st.tuples(
    st.lists(st.tuples(st.integers(1, 9), st.integers(-1, 12), st.integers(0, 4)), min_size=1, max_size=5),
    st.integers(0, 25),
)


def best_by_trying(items: Sequence[tuple[int, float, int]], capacity: int) -> float:
    """Most value of items (size, value, limit), over all counts."""
    ranges = [range(min(limit, capacity // size) + 1) for size, _, limit in items]
    return max(
        sum(n * value for n, (_, value, _) in zip(counts, items, strict=True))
        for counts in product(*ranges)
        if sum(n * size for n, (size, *_) in zip(counts, items, strict=True)) <= capacity
    )


@both("knapsack", "unpack")
@few
@given(knapsacks)
def test_knapsacks_agree_with_trying_everything(loops: list[Callable[..., Any]], case: Any) -> None:
    """For the items up to each one: the value, and a choice within size and limits that has this value."""
    knapsack, unpack = loops
    items, capacity = case
    sizes, values, limits = zip(*items, strict=True)
    take = np.zeros((len(items), capacity + 1), np.int32)
    reached = knapsack(ints(sizes), floats(values), ints(limits), capacity, take)
    for first in range(1, len(items) + 1):
        assert reached[first - 1] == pytest.approx(best_by_trying(items[:first], capacity))
        counts = unpack(take, ints(sizes), first, capacity)
        assert (counts <= limits).all()
        assert counts @ ints(sizes) <= capacity
        assert counts @ floats(values) == pytest.approx(reached[first - 1])


@few
@given(knapsacks, st.integers(1, 50))
def test_a_common_measure_of_all_sizes_changes_nothing(case: Any, factor: int) -> None:
    """`best_fill` works in the common divisor of the sizes; value and choice are those of the small sizes."""
    items, capacity = case
    sizes, values, limits = (np.array(column) for column in zip(*items, strict=True))
    small, chosen = kernels.best_fill(ints(sizes), floats(values), ints(limits), capacity)
    large, counts = kernels.best_fill(
        ints(sizes * factor), floats(values), ints(limits), capacity * factor + factor - 1
    )
    assert small == large == pytest.approx(best_by_trying(items, capacity))
    assert chosen.tolist() == counts.tolist()


@both("reaches", "knapsack")
@few
@given(knapsacks)
def test_values_alone_are_those_of_the_whole_table(loops: list[Callable[..., Any]], case: Any) -> None:
    """The same best values, item by item, where nobody asks which items they come from."""
    reaches, knapsack = loops
    items, capacity = case
    sizes, values, limits = zip(*items, strict=True)
    take = np.zeros((len(sizes), capacity + 1), np.int32)
    expected = knapsack(ints(sizes), floats(values), ints(limits), capacity, take)
    _, reached = reaches(ints(sizes), floats(values), ints(limits), capacity)
    assert reached.tolist() == pytest.approx(expected.tolist())


def test_a_knapsack_without_items_is_empty() -> None:
    """Nothing to choose from is worth nothing."""
    value, counts = kernels.best_fill(ints([]), floats([]), ints([]), 10)
    assert (value, counts.size) == (0.0, 0)


@both("unbounded")
@few
@given(knapsacks)
def test_unbounded_knapsacks_agree_with_trying_everything(loops: list[Callable[..., Any]], case: Any) -> None:
    """As many copies as fit, no limits."""
    items, capacity = case
    sizes, values, _ = zip(*items, strict=True)
    expected = best_by_trying([(size, value, capacity) for size, value, _ in items], capacity)
    assert loops[0](ints(sizes), floats(values), capacity) == pytest.approx(expected)


@both("sums")
@few
@given(st.lists(st.integers(1, 20), min_size=1, max_size=4), st.integers(0, 60))
def test_sums_are_all_and_only_reachable_lengths(
    loops: list[Callable[..., Any]], sizes: list[int], room: int
) -> None:
    """Normal patterns (Herz 1972): found here by growing a set."""
    reached = {0}
    while more := {a + b for a in reached for b in sizes if a + b <= room} - reached:
        reached |= more
    assert loops[0](ints(sizes), room).tolist() == sorted(reached - {0})


@both("within_limits")
@few
@given(st.lists(st.integers(0, 5), max_size=12), st.lists(st.integers(0, 4), min_size=3, max_size=3))
def test_no_kind_is_used_beyond_its_limit(
    loops: list[Callable[..., Any]], items: list[int], limits: list[int]
) -> None:
    """Items 0 to 5 belong to kinds 0, 0, 1, 1, 2, 2; what stays is the first of each kind, in order."""
    kind = [0, 0, 1, 1, 2, 2]
    kept, times = loops[0](ints(items), ints(kind), ints(limits))
    expected: list[int] = []
    for item in items:
        if sum(kind[other] == kind[item] for other in expected) < limits[kind[item]]:
            expected.append(item)
    assert kept.tolist() == expected
    use = [sum(kind[item] == k for item in expected) for k in range(3)]
    assert times == min((limits[k] // use[k] for k in range(3) if use[k]), default=0)


# --- fill_widths --------------------------------------------------------------------------------------


def section_by_trying(
    boxes: Sequence[tuple[int, int, float, int]], length: int, width: int, kerf: int, stages: int
) -> float:
    """Most value of a section: boxes are (dx, dy, value, limit in a strip); strips are not limited."""

    @cache
    def strip(widest: int) -> float:
        narrow = [(dx + kerf, value, limit) for dx, dy, value, limit in boxes if dy <= widest]
        if stages == 3:
            return best_by_trying(narrow, length + kerf)
        return max((value for size, value, limit in narrow if size <= length + kerf and limit), default=0.0)

    @cache
    def across(room: int) -> float:
        widths = {dy for _, dy, _, _ in boxes if dy + kerf <= room}
        return max((strip(w) + across(room - w - kerf) for w in widths if strip(w) > 0), default=0.0)

    return across(width + kerf)


@both("fill_widths")
@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(1, 8), st.integers(1, 8), st.integers(0, 9), st.integers(0, 3)),
        min_size=1,
        max_size=4,
    ),
    st.sets(st.integers(1, 16), min_size=1, max_size=3),
    st.integers(1, 14),
    st.integers(0, 2),
    st.sampled_from([2, 3]),
    st.booleans(),
)
def test_sections_are_worth_what_trying_everything_finds(
    loops: list[Callable[..., Any]],
    boxes: list[tuple[int, int, int, int]],
    lengths: set[int],
    width: int,
    kerf: int,
    stages: int,
    free: bool,
) -> None:
    """Two and three stages, with and without limits, for several lengths at once."""
    boxes = sorted(((dx, dy, v, 99 if free else n) for dx, dy, v, n in boxes), key=lambda box: box[1])
    dx, dy, values, limits = zip(*boxes, strict=True)
    order = sorted(lengths)
    worth = np.zeros(len(order))
    loops[0](
        ints(order),
        np.unique(ints(dy)),
        stages,
        ints(dx),
        ints(dy),
        floats(values),
        ints(limits),
        kerf,
        width,
        worth,
    )
    for length, found in zip(order, worth, strict=True):
        assert found == pytest.approx(section_by_trying(boxes, length, width, kerf, stages))
