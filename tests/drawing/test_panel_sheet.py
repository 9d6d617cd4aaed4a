"""The sheet of all panels of a model."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawing.panel_sheet import panel_sheet
from nesting.drawing.paper import PAPERS
from nesting.drawing.scene import Layer, Polygon, Scene
from nesting.measures import shown_for
from nesting.model import Panel, Plan, Units, Workshop


def test_every_panel_is_named_measured_and_told_its_material(
    plan: Plan, words_on: Callable[[Scene], list[str]]
) -> None:
    """Name, sizes, pieces, material, and the cutter's note."""
    panels = [demand.panel for item in plan.materials for demand in item.demands]
    scenes = panel_sheet("Aster, queen", panels, {"m": plan.materials[0].material})
    words = [word for scene in scenes for word in words_on(scene)]
    assert "TP  Top panel" in words
    assert "2072 x 1564, 1 per bed" in words
    assert "1910 x 910, 100 thick, 1 per bed" in words
    assert "Quilted ticking, damask white" in words
    assert "Mark the face side with chalk." in words
    assert {"2072", "1564", "handle", "button"} <= set(words)


def test_all_panels_have_one_scale(plan: Plan) -> None:
    """Two panels of 2072 and 1785 mm are as 2072 to 1785 on paper."""
    panels = [demand.panel for demand in plan.materials[0].demands[:2]]
    (scene,) = panel_sheet("t", panels, {})
    shapes = [
        item for item in scene.items if isinstance(item, Polygon) and item.style and item.style.width > 0.3
    ]
    lengths = [max(x for x, _ in item.points) - min(x for x, _ in item.points) for item in shapes]
    assert lengths[0] / lengths[1] == pytest.approx(2072 / 1785)


def test_a_long_tape_is_interrupted_but_measured_in_full(words_on: Callable[[Scene], list[str]]) -> None:
    """14 066 mm of tape do not shrink the panel beside it; the dimension is the true one."""
    panels = [
        Panel(code="TA", name="Tape", material="m", length=14_066, width=40),
        Panel(code="TP", name="Top", material="m", length=2072, width=1564),
    ]
    (scene,) = panel_sheet("t", panels, {})
    assert "14066" in words_on(scene)
    pieces = [item for item in scene.items if isinstance(item, Polygon) and item.layer is Layer.PIECES]
    assert len(pieces) == 3
    # At 1:8 the panel is 259 x 195.5 mm and fits above the tape; 14 066 mm in full would need 1:40.
    assert any(word.startswith("1 : 8 ") for word in words_on(scene))


def test_no_panels_still_make_a_page(words_on: Callable[[Scene], list[str]]) -> None:
    """An empty sheet with its title."""
    (scene,) = panel_sheet("Nothing", [], {})
    assert "Nothing" in words_on(scene)


@settings(max_examples=25, deadline=None)
@given(
    sizes=st.lists(st.tuples(st.floats(20, 9000), st.floats(20, 2500)), max_size=30),
    paper=st.sampled_from(list(PAPERS)),
    units=st.sampled_from(["mm", "inch"]),
)
def test_any_set_of_panels_can_be_read(
    page_faults: Callable[[Scene, float], list[str]],
    sizes: list[tuple[float, float]],
    paper: str,
    units: Units,
) -> None:
    """Whatever the sizes: no words over words, and nothing off the paper."""
    panels = [
        Panel(code=f"P{i}", name=f"Panel {i}", material="m", length=length, width=width)
        for i, (length, width) in enumerate(sizes)
    ]
    with shown_for(Workshop(units=units)):
        for scene in panel_sheet("Any", panels, {}, paper):
            assert page_faults(scene, 2.0) == []


def test_a_sheet_in_inches_says_so(words_on: Callable[[Scene], list[str]]) -> None:
    """2072 x 1564 mm are 81.575 x 61.575 in: to the sixteenth 81 9/16 x 61 9/16 (arithmetic)."""
    panels = [Panel(code="TP", name="Top", material="m", length=2072, width=1564, thickness=19.05)]
    with shown_for(Workshop(units="inch")):
        (scene,) = panel_sheet("t", panels, {}, "Letter")
    words = words_on(scene)
    assert (scene.width, scene.height) == (279.4, 215.9)
    assert "81 9/16 x 61 9/16, 3/4 thick, 1 per bed" in words
    assert any("All measures in inches" in line for line in words)
