"""Pieces in the convention of the sewn-product trade, read by the library and by an independent reader."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import ezdxf
import pytest
import shapely

from nesting.catalogue import load_range
from nesting.drawing.pattern_dxf import write_pattern_dxf
from nesting.model import Mark, Panel

# Numbers of layers as in the trade handbook (ASTM D6673; from memory, as one secondary page has them).
BOUNDARY, TURN, CURVE, NOTCH, GRAIN, INTERNAL, DRILL, SEW, TEXT = (
    "1",
    "2",
    "3",
    "4",
    "7",
    "8",
    "13",
    "14",
    "15",
)


@dataclass
class Entity:
    """An entity as plain pairs of group code and value, with those of its vertices."""

    kind: str
    pairs: list[tuple[int, str]] = field(default_factory=list)
    vertices: list[tuple[float, float]] = field(default_factory=list)

    def value(self, code: int) -> str:
        return next(value for found, value in self.pairs if found == code)

    @property
    def layer(self) -> str:
        return self.value(8)

    @property
    def at(self) -> tuple[float, float]:
        return float(self.value(10)), float(self.value(20))


def read_blocks(path: Path) -> dict[str, list[Entity]]:
    """Blocks and their entities, from group codes alone (DXF reference: a code line, a value line)."""
    lines = path.read_text("ascii").splitlines()
    pairs = [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=True)]
    blocks: dict[str, list[Entity]] = {}
    inside: list[Entity] | None = None
    entity = Entity("")
    for code, value in pairs:
        if code == 0:
            entity = Entity(value)
            if value == "ENDBLK":
                inside = None
            elif inside is not None and value != "SEQEND":
                inside.append(entity)
        elif entity.kind == "BLOCK" and code == 2:
            inside = blocks.setdefault(value, [])
        else:
            entity.pairs.append((code, value))
    for name, entities in blocks.items():
        whole: list[Entity] = []
        for found in entities:
            if found.kind == "VERTEX":
                whole[-1].vertices.append(found.at)
            else:
                whole.append(found)
        blocks[name] = whole
    return blocks


MARKED = Panel(
    code="TP",
    name="Größe top",
    material="m",
    length=400.0,
    width=300.0,
    pieces=2,
    outline=((0.0, 0.0), (400.0, 0.0), (400.0, 280.0), (394.0, 294.0), (380.0, 300.0), (0.0, 300.0)),
    marks=(
        Mark("notch", ((200.0, 0.0),)),
        Mark("drill", ((50.0, 60.0),), "button"),
        Mark("vent", ((70.0, 60.0),)),
        Mark("handle", ((90.0, 60.0),)),
        Mark("grain", ((10.0, 10.0), (110.0, 10.0))),
        Mark("fold", ((0.0, 200.0), (400.0, 200.0))),
        Mark("seam", ((0.0, 15.0), (400.0, 15.0))),
    ),
)


@pytest.fixture
def marked(tmp_path: Path) -> Path:
    path = tmp_path / "p.dxf"
    write_pattern_dxf("Aster", "queen 60x80", [MARKED], {}, path)
    return path


def test_a_second_reader_finds_every_line_on_its_layer(marked: Path) -> None:
    """Numbers of layers as in the handbook; entities are the plain ones of the oldest releases."""
    blocks = {name: found for name, found in read_blocks(marked).items() if not name.startswith(("*", "$"))}
    (piece,) = blocks.values()
    assert {entity.kind for entity in piece} == {"POLYLINE", "POINT", "LINE", "TEXT"}

    def places(kind: str, layer: str) -> list[tuple[float, float]]:
        return [entity.at for entity in piece if (entity.kind, entity.layer) == (kind, layer)]

    (boundary,) = (entity for entity in piece if entity.kind == "POLYLINE")
    assert boundary.layer == BOUNDARY
    assert boundary.value(70) == "1"  # closed
    assert boundary.vertices == list(MARKED.outline)
    assert places("POINT", NOTCH) == [(200.0, 0.0)]
    assert places("POINT", DRILL) == [(50.0, 60.0), (70.0, 60.0)]
    assert places("LINE", GRAIN) == [(10.0, 10.0)]
    assert places("LINE", SEW) == [(0.0, 15.0)]
    assert places("LINE", INTERNAL) == [(80.0, 60.0), (90.0, 50.0), (0.0, 200.0)]
    assert len(places("POINT", TURN)) + len(places("POINT", CURVE)) == len(MARKED.outline)
    words = [entity.value(1) for entity in piece if (entity.kind, entity.layer) == ("TEXT", BOUNDARY)]
    assert words[:4] == ["PIECE NAME: TP", "SIZE: queen 60x80", "QUANTITY: 2", "MATERIAL: m"]
    assert words[4] == "ANNOTATION: Grosse top, cut 400 x 300 mm".replace("Grosse", "Gro?e")
    assert [entity.value(1) for entity in piece if (entity.kind, entity.layer) == ("TEXT", TEXT)] == [
        "button",
        "vent",
        "handle",
    ]


def test_the_library_finds_nothing_to_mend_and_reads_the_same(marked: Path) -> None:
    """Release 12 (AC1009: DXF reference), each piece inserted once, units in words."""
    document = ezdxf.readfile(marked)
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert document.dxfversion == "AC1009"
    space = document.modelspace()
    assert len(space.query("INSERT")) == 1
    words = [text.dxf.text for text in space.query("TEXT")]
    assert words[:2] == ["STYLE NAME: Aster", "SAMPLE SIZE: queen 60x80"]
    assert "UNITS: METRIC" in words
    (square,) = space.query("POLYLINE")
    assert shapely.Polygon([v.dxf.location.xyz[:2] for v in square.vertices]).area == 10_000


def test_arcs_are_told_from_corners(tmp_path: Path) -> None:
    """A flattened quarter circle: its inner points are points of a curve, the rest turn points."""
    steps = 12
    import math

    arc = [
        (300 + 100 * math.cos(i * math.pi / 2 / steps), 200 + 100 * math.sin(i * math.pi / 2 / steps))
        for i in range(steps + 1)
    ]
    outline = ((0.0, 0.0), (400.0, 0.0), *arc, (0.0, 300.0))
    panel = Panel(code="R", name="r", material="m", length=400.0, width=300.0, outline=outline)
    write_pattern_dxf("A", "s", [panel], {}, tmp_path / "p.dxf")
    piece = read_blocks(tmp_path / "p.dxf")["R"]
    layers = [entity.layer for entity in piece if entity.kind == "POINT"]
    # The arc begins and ends along the straight edges, so its ends bend by half a step only.
    assert layers == [TURN, TURN, *[CURVE] * (steps + 1), TURN]


def test_all_models_and_sizes_of_the_demo_keep_their_areas(patterns: Path, tmp_path: Path) -> None:
    """Boundaries read back enclose the areas of the panels."""
    range_ = load_range(patterns / "demo-range.toml")
    for model in range_.models.values():
        panels = range_.panels(model.key, model.sizes[0])
        write_pattern_dxf(model.name, model.sizes[0], panels, range_.materials, tmp_path / "p.dxf")
        blocks = read_blocks(tmp_path / "p.dxf")
        for panel in panels:
            (boundary,) = (entity for entity in blocks[panel.code.upper()] if entity.kind == "POLYLINE")
            assert shapely.Polygon(boundary.vertices).area / 1e6 == pytest.approx(panel.area, rel=1e-6)
