"""What a range file may allow to be glued up: laminations, and where joints may lie."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.panels import Dims, PanelError
from nesting.panels.foam import foam_slab
from nesting.panels.gluing import joined, laminated

BED = Dims(900, 2000, 200)
JOINTS = {"least": 150, "from_edge": 250, "apart": 100, "keep_clear": (), "cost": 0}


def slab(material, **options):
    """A slab of 2000 x 900 x 60."""
    (shape,) = foam_slab(BED, material, **{"foam_oversize": 0, "thickness": 60, **options})
    return shape


def test_every_sum_of_allowed_slabs_is_a_lamination(block):
    """100 from 20, 30 and 50, three at most: 50 + 50, 50 + 30 + 20; by hand. Thick ones lie at the bottom."""
    glue = slab(block, thickness=100, laminate_from=(20, 30, 50)).glue
    assert glue.laminations == ((50, 50), (50, 30, 20))
    assert glue.whole
    more = slab(block, thickness=100, laminate_from=(20, 30, 50), most_layers=5, laminated_only=True).glue
    assert set(more.laminations) == {(50, 50), (50, 30, 20), (30, 30, 20, 20), (20,) * 5}
    assert not more.whole


def test_oversize_is_added_to_every_layer(block):
    """2 % more: 51 each, as in one slab of 102."""
    shape = slab(block, thickness=100, laminate_from=(50,), thickness_oversize=0.02)
    assert (shape.thickness, shape.glue.laminations) == (102, ((51, 51),))


def test_layers_with_joints_take_turns(block):
    """2000 long, 250 from the ends, 100 apart: 250 to 950, or 1050 to 1750; arithmetic."""
    assert slab(block, joins=1, layer=1).glue.spans == ((250, 950),)
    assert slab(block, joins=1, layer=2).glue.spans == ((1050, 1750),)
    assert slab(block, joins=1, layer=1, joint_line="along").glue.spans == ((250, 400),)


def test_stretches_are_kept_clear(block):
    """Shoulders 400 to 700 are left out of 250 to 950."""
    glue = slab(block, joins=1, joint_keep_clear=((400, 700),)).glue
    assert glue.spans == ((250, 400), (700, 950))


@given(
    size=st.integers(600, 2200),
    least=st.integers(50, 200),
    edge=st.integers(0, 300),
    apart=st.integers(0, 300),
    clear=st.lists(st.tuples(st.integers(0, 2200), st.integers(1, 400)), max_size=3),
    line=st.sampled_from(["across", "along"]),
)
def test_joints_of_neighbours_keep_apart_wherever_they_lie(size, least, edge, apart, clear, line):
    """Any joint of an odd layer and any of an even one; both within the edges and outside what is clear."""
    keep = tuple((start, start + wide) for start, wide in clear)
    layers = []
    for layer in (1, 2):
        try:
            glue = joined(
                size, line, 1, least=least, from_edge=edge, apart=apart, keep_clear=keep, layer=layer, cost=0
            )
        except PanelError:
            return
        layers.append(glue.spans)
        for low, high in glue.spans:
            assert max(edge, least) <= low <= high <= size - max(edge, least)
            assert not any(start < low < end or start < high < end for start, end in keep)
    assert layers[1][0][0] - layers[0][-1][1] >= apart - 0.11  # both ends kept to the tenth


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"joins": 4}, "joins = 4: allowed: 0 to 3"),
        ({"joins": 1, "joint_from_edge": 980}, "joint_from_edge = 980"),
        ({"joins": 1, "joint_keep_clear": ((0, 2000),)}, "leave room for a joint"),
        ({"joins": 1, "joint_keep_clear": ((500, 400),)}, "joint_keep_clear"),
        ({"joins": 1, "thicknesses": (30, 30)}, "one of thicknesses, laminate_from and joins"),
        ({"joins": 1, "laminate_from": (30,)}, "one of thicknesses, laminate_from and joins"),
        ({"laminate_from": (25,)}, "laminate_from"),
        ({"laminate_from": (30,), "most_layers": 1}, "most_layers = 1"),
        ({"laminated_only": True}, "laminated_only"),
    ],
)
def test_what_makes_no_sense_is_refused(block, options, message):
    """Each message names the option to change."""
    with pytest.raises(PanelError, match=message):
        slab(block, **options)


def test_only_foam_from_blocks_is_glued_up(roll):
    """A roll has no slabs to choose from."""
    with pytest.raises(PanelError, match="foam from a block"):
        slab(roll, joins=1)


def test_cautions_go_with_what_is_glued():
    """Adhesive, grade and fire approval are on the cutter's note."""
    assert "data sheet" in laminated(60, (30,), 2, 0.0, only=False, cost=0).note
    note = joined(2000, "across", 1, layer=1, **JOINTS).note
    assert "fire approval" in note and "head end" in note
