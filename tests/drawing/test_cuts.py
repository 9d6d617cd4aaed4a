"""Reading a tree of cuts."""

from __future__ import annotations

from nesting.drawing.cuts import first_cuts, piece_order, remnant_leaves
from nesting.model import MaterialPlan


def test_first_cuts_are_measured_to_their_near_side(board: MaterialPlan) -> None:
    """By hand: 10 trim + 1500; + 4 kerf + 596; + 4 + 90; + 4 + 90."""
    cuts = first_cuts(board.layouts[0].cuts)
    assert [cut.at for cut in cuts] == [1510.0, 2110.0, 2204.0, 2298.0]
    assert cuts[0].start == (1512.0, 8.0)
    assert cuts[0].end == (1512.0, 1212.0)


def test_a_cutter_meets_pieces_in_the_order_of_the_tree(foam: MaterialPlan) -> None:
    """Sheet by sheet from the bottom of the block."""
    layout = foam.layouts[0]
    order = piece_order(layout)
    assert sorted(order) == list(range(len(layout.placements)))
    heights = [layout.placements[i].z for i in order]
    assert heights == sorted(heights)


def test_without_a_tree_pieces_are_met_along_the_roll(ticking: MaterialPlan) -> None:
    """From the start of the marker onwards, near side first."""
    layout = ticking.layouts[0]
    places = [(layout.placements[i].x, layout.placements[i].y) for i in piece_order(layout)]
    assert places == sorted(places)


def test_only_rests_worth_keeping_are_kept(board: MaterialPlan) -> None:
    """The strips of 128 and of 28 mm are waste; 2420 x 600 and 916 x 600 are not (limits 500 x 300)."""
    assert remnant_leaves(board.material, board.layouts[0].cuts) == ()
    kept = remnant_leaves(board.material, board.layouts[1].cuts)
    assert sorted((leaf.length, leaf.width) for leaf in kept) == [(916.0, 600.0), (2420.0, 600.0)]
