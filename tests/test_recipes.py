"""From what a panel allows to the recipes that a search is given."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nesting.catalogue.fit import misfit
from nesting.model import BlockMaterial, Glue, Panel
from nesting.recipes import MOST_RECIPES, recipes_of

FOAM = BlockMaterial(key="foam", name="Foam", length=2400, width=2000, height=500, density=30, kerf=1)


def panel(glue: Glue | None, length: float = 2000, width: float = 900, thickness: float = 60) -> Panel:
    return Panel(
        code="UL",
        name="Under-layer",
        material="foam",
        length=length,
        width=width,
        thickness=thickness,
        turns=(0.0, 90.0),
        glue=glue,
    )


def test_no_leave_no_recipe() -> None:
    """A slab is in one piece unless its panel says otherwise."""
    assert recipes_of(panel(None), FOAM) == ()


def test_laminations_are_recipes() -> None:
    """Two joints in three layers, each 0.5."""
    (recipe,) = recipes_of(panel(Glue(laminations=((30, 20, 10),), cost=0.5)), FOAM)
    assert recipe.parts == ((2000, 900, 30), (2000, 900, 20), (2000, 900, 10))
    assert recipe.cost == 1.0


def test_a_piece_as_large_as_another_slab_comes_first() -> None:
    """700 x 900 x 60 is wanted anyway, so a joint at 700 or 1300 from the head end."""
    other = panel(None, length=700)
    glue = Glue(joints=1, spans=((250, 950),), least=150)
    first = recipes_of(panel(glue), FOAM, [panel(glue), other])[0]
    assert first.parts == ((700, 900, 60), (1300, 900, 60))
    thin = panel(None, length=700, thickness=20)
    assert first not in recipes_of(panel(glue), FOAM, [panel(glue), thin])


def test_what_a_block_leaves_beside_a_slab_is_used() -> None:
    """2400 less 2000 and a saw cut of 1 are 399."""
    glue = Glue(joints=1, spans=((250, 950),), least=150)
    places = [recipe.parts[0][0] for recipe in recipes_of(panel(glue), FOAM)]
    assert 399 in places


def test_joints_along_divide_the_width() -> None:
    """All pieces are 2000 long and together 900 wide."""
    for recipe in recipes_of(panel(Glue(line="along", joints=1, spans=((200, 400),), least=150)), FOAM):
        assert {part[0] for part in recipe.parts} == {2000}
        assert sum(part[1] for part in recipe.parts) == 900


@given(
    st.integers(1, 3),
    st.lists(st.tuples(st.integers(200, 1700), st.integers(1, 200)), min_size=1, max_size=3),
    st.lists(st.tuples(st.integers(200, 2100), st.integers(200, 1500)), max_size=4),
)
def test_every_joint_lies_where_it_may(joints: int, spans: object, others: object) -> None:
    """Parts add up to the layer, joints lie within the stretches, pieces are not too small."""
    stretches = tuple(sorted((float(low), float(low + wide)) for low, wide in spans))  # type: ignore[attr-defined]
    glue = Glue(joints=joints, spans=stretches, least=150)
    layer = panel(glue)
    found = recipes_of(layer, FOAM, [layer, *(panel(None, a, b) for a, b in others)])  # type: ignore[attr-defined]
    assert 1 <= len(found) <= MOST_RECIPES
    for recipe in found:
        assert 2 <= len(recipe.parts) <= joints + 1
        at = 0.0
        for length, width, thickness in recipe.parts[:-1]:
            at += length
            assert any(low - 0.1 <= at <= high + 0.1 for low, high in stretches)
            assert (width, thickness) == (900, 60)
        assert abs(sum(part[0] for part in recipe.parts) - 2000) < 1e-6
        assert all(part[0] >= 149.9 for part in recipe.parts[1:-1])


def test_a_slab_too_thick_for_the_block_fits_when_it_is_laminated() -> None:
    """600 from a block 500 high."""
    assert misfit(panel(None, thickness=600), FOAM) is not None
    assert misfit(panel(Glue(laminations=((300, 300),)), thickness=600), FOAM) is None
    assert misfit(panel(Glue(laminations=((550, 50),)), thickness=600), FOAM) is not None
