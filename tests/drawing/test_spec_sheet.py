"""The specification sheet: lists, values, marks, drawings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawing.mark_legend import MARK_WORDS
from nesting.drawing.paper import PAPERS
from nesting.drawing.scene import Scene
from nesting.drawing.spec_sheet import Specification, spec_sheet
from nesting.measures import shown_for
from nesting.model import BlockMaterial, Mark, Panel, RollMaterial, Workshop

CLOTH = RollMaterial(
    key="cloth",
    name="Damask",
    width=2200,
    edge_trim=20,
    roll_length=50_000,
    mass=0.5,
    fire_reference="file 7",
)
FOAM = BlockMaterial(key="foam", name="Foam 30", length=2000, width=2000, height=1000, density=30)
TOP = Panel(
    code="TP",
    name="Top panel",
    material="cloth",
    length=2000,
    width=1500,
    pieces=2,
    turns=(0.0, 180.0),
    marks=(Mark("notch", ((1000.0, 0.0),)), Mark("fold", ((0.0, 40.0), (2000.0, 40.0)))),
)
CORE = Panel(
    code="CO", name="Core", material="foam", length=2000, width=1500, thickness=100, note="firm side up"
)
SPEC = Specification(
    range_name="Invented range",
    model="Heron",
    size="King",
    note="A remark.",
    width=1480,
    length=1980,
    height=220,
    panels=(TOP, CORE),
    materials={"cloth": CLOTH, "foam": FOAM},
    values=(("seam", "10", "TP"), ("ease", "0.5 %", "TP")),
    stamp="stamp",
)


def test_lists_tell_sizes_amounts_values_and_marks(words_on: Callable[[Scene], list[str]]) -> None:
    """2 x 2 m x 1.5 m are 6 m2 and 3 kg; a core of 0.3 m3 has 9 kg (arithmetic)."""
    first, *_ = spec_sheet(SPEC, "A3")
    words = set(words_on(first))
    assert {"Heron, King: specification", "1480 mm", "1980 mm", "220 mm", "A remark."} <= words
    assert {"6.000 m2", "3.00 kg", "0.3000 m3", "9.00 kg", "file 7", "firm side up"} <= words
    assert {"seam", "10", "ease", "0.5 %"} <= words
    assert {"Notch", "1000", "Fold", "0 to 2000", "40"} <= words
    assert any("does not certify" in line for line in words)


def test_drawings_explain_the_marks_that_occur(words_on: Callable[[Scene], list[str]]) -> None:
    """Notch and fold, and none of the others; pages are counted through."""
    scenes = spec_sheet(SPEC, "A3")
    words = words_on(scenes[-1])
    assert {"Notch", "Fold", MARK_WORDS["fold"][1]} <= set(words)
    assert "Vent" not in words
    numbers = [word for scene in scenes for word in words_on(scene) if "page " in word]
    assert [number.split("page ")[1] for number in numbers] == [
        f"{place} of {len(scenes)}" for place in range(1, len(scenes) + 1)
    ]


@settings(max_examples=20, deadline=None)
@given(
    sizes=st.lists(st.tuples(st.floats(20, 9000), st.floats(20, 2500)), min_size=1, max_size=40),
    marks=st.lists(st.sampled_from(sorted(MARK_WORDS)), max_size=30),
    values=st.integers(0, 90),
    paper=st.sampled_from(["A4", "A3", "Letter"]),
)
def test_any_specification_can_be_read(
    page_faults: Callable[[Scene, float], list[str]],
    sizes: list[tuple[float, float]],
    marks: list[str],
    values: int,
    paper: str,
) -> None:
    """However many parts, marks and values: no words over words, nothing off the paper, nothing lost."""
    panels = tuple(
        Panel(
            code=f"P{number}",
            name=f"Part {number}",
            material="cloth",
            length=length,
            width=width,
            marks=tuple(
                Mark(
                    kind,
                    ((length / 2, width / 2),) if kind not in ("fold", "seam") else ((0, 0), (length, 0)),
                )
                for kind in marks
            )
            if number == 0
            else (),
        )
        for number, (length, width) in enumerate(sizes)
    )
    spec = replace(SPEC, panels=panels, values=tuple((f"value {n}", f"{n}", "P0") for n in range(values)))
    scenes = spec_sheet(spec, paper)
    for scene in scenes:
        assert (scene.width, scene.height) == (PAPERS[paper].width, PAPERS[paper].height)
    lists = [scene for scene in scenes if "specification" in scene.title]
    for scene in scenes:
        assert page_faults(scene, min(PAPERS[paper].least, PAPERS["A3"].least)) == []
    told = {item.words for scene in lists for item in scene.items if hasattr(item, "words")}
    assert {f"value {n}" for n in range(values)} <= told
    assert {panel.code for panel in panels} <= told


def test_inches(words_on: Callable[[Scene], list[str]]) -> None:
    """1480 mm are 58.268 in, to the sixteenth 58 1/4; 6 m2 are 64.583 sq ft."""
    with shown_for(Workshop(units="inch")):
        first, *_ = spec_sheet(SPEC, "Letter")
    words = words_on(first)
    assert "58 1/4 in" in words
    assert "64.583 sq ft" in words


def test_an_unknown_material_is_named_by_its_key(words_on: Callable[[Scene], list[str]]) -> None:
    """As on the sheet of panels."""
    first, *_ = spec_sheet(replace(SPEC, materials={}), "A4")
    assert "cloth" in words_on(first)


def test_paper_is_checked() -> None:
    """Allowed papers are listed."""
    with pytest.raises(ValueError, match="A4"):
        spec_sheet(SPEC, "A9")
