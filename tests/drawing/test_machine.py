"""Layouts at true size, and the DXF files made of them."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
import shapely
from ezdxf.document import Drawing

from nesting.drawing.dxf import dxf_document, write_dxf
from nesting.drawing.machine import machine_scene
from nesting.drawing.scene import Circle, Layer, Line, Polygon, Scene, Text
from nesting.files import FileError
from nesting.model import MaterialPlan, Plan


def _read(material_plan: MaterialPlan, index: int, folder: Path) -> Drawing:
    path = folder / "layout.dxf"
    write_dxf(machine_scene(material_plan, index, "invented stamp"), path)
    return ezdxf.readfile(path)


def _outlines(document: Drawing, layer: str) -> list[list[tuple[float, float]]]:
    found = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    assert all(line.closed for line in found)
    return [[(x, y) for x, y in line.get_points("xy")] for line in found]


def test_every_file_passes_the_audit_and_says_its_units(plan: Plan, tmp_path: Path) -> None:
    """Release 2010 (AC1024), millimetres ($INSUNITS 4), metric: DXF reference, header variables."""
    for material_plan in plan.materials:
        for index in range(len(material_plan.layouts)):
            document = _read(material_plan, index, tmp_path)
            audit = document.audit()
            assert (audit.errors, audit.fixes) == ([], [])
            assert document.dxfversion == "AC1024"
            assert document.header["$INSUNITS"] == 4
            assert document.header["$MEASUREMENT"] == 1


def test_pieces_read_back_where_the_plan_puts_them(ticking: MaterialPlan, tmp_path: Path) -> None:
    """One closed polyline for each piece, corner by corner."""
    outlines = _outlines(_read(ticking, 0, tmp_path), "PIECES")
    assert len(outlines) == 21
    # The second top panel lies from 2072 to 4144 along the roll, turned by 180 degrees.
    assert outlines[3] == [(4144.0, 1564.0), (2072.0, 1564.0), (2072.0, 0.0), (4144.0, 0.0)]
    # A border strip beside the first.
    assert outlines[1] == [(0.0, 1564.0), (1785.0, 1564.0), (1785.0, 1824.0), (0.0, 1824.0)]
    # The headboard turned by 180 degrees: its corner (0, 0) comes to (10604 + 1696, 1100 + 796).
    assert outlines[16][0] == pytest.approx((12_300.0, 1896.0))


@pytest.mark.parametrize("index", [0, 1])
def test_areas_read_back_are_those_of_the_panels(ticking: MaterialPlan, index: int, tmp_path: Path) -> None:
    """Measured by another library on what the file holds."""
    areas = {demand.key: demand.panel.area for demand in ticking.demands}
    expected = [areas[placement.key] for placement in ticking.layouts[index].placements]
    outlines = _outlines(_read(ticking, index, tmp_path), "PIECES")
    found = [shapely.Polygon(outline).area / 1e6 for outline in outlines]
    assert found == pytest.approx(expected)


def test_pieces_read_back_do_not_overlap(board: MaterialPlan, tmp_path: Path) -> None:
    """Between neighbours lies the saw cut of 4 mm."""
    shapes = [shapely.Polygon(outline) for outline in _outlines(_read(board, 0, tmp_path), "PIECES")]
    tree = shapely.STRtree(shapes)
    near, far = tree.query(shapes, predicate="dwithin", distance=3.9)
    assert all(near == far)


def test_stock_is_drawn_with_its_usable_area(
    board: MaterialPlan, ticking: MaterialPlan, tape: MaterialPlan, tmp_path: Path
) -> None:
    """The raw sheet and what the trim leaves; the full roll and its usable width; one outline for tape."""
    assert _outlines(_read(board, 0, tmp_path), "STOCK") == [
        [(0, 0), (2440, 0), (2440, 1220), (0, 1220)],
        [(10, 8), (2430, 8), (2430, 1212), (10, 1212)],
    ]
    assert _outlines(_read(ticking, 0, tmp_path), "STOCK") == [
        [(0, -25), (12_300, -25), (12_300, 2175), (0, 2175)],
        [(0, 0), (12_300, 0), (12_300, 2150), (0, 2150)],
    ]
    assert _outlines(_read(tape, 0, tmp_path), "STOCK") == [[(0, 0), (50_000, 0), (50_000, 40), (0, 40)]]


def test_a_check_square_of_100_mm_stands_outside_the_stock(plan: Plan, tmp_path: Path) -> None:
    """Measured after import, it shows whether the units were understood."""
    for material_plan in plan.materials:
        document = _read(material_plan, 0, tmp_path)
        (square,) = (shapely.Polygon(outline) for outline in _outlines(document, "CHECK"))
        assert square.area == 10_000
        assert square.length == 400
        assert all(
            not square.intersects(shapely.Polygon(outline)) for outline in _outlines(document, "STOCK")
        )


def test_cuts_remnants_marks_and_words_have_layers_of_their_own(
    board: MaterialPlan, ticking: MaterialPlan, tmp_path: Path
) -> None:
    """A machine reads the layer it needs and no other."""
    document = _read(board, 1, tmp_path)
    cuts = sorted((line.dxf.start.xyz, line.dxf.end.xyz) for line in document.query('LINE[layer=="CUTS"]'))
    assert cuts == [((10.0, 610.0, 0.0), (2430.0, 610.0, 0.0)), ((1512.0, 8.0, 0.0), (1512.0, 608.0, 0.0))]
    assert len(_outlines(document, "REMNANTS")) == 2
    document = _read(ticking, 1, tmp_path)
    assert len(document.query('CIRCLE[layer=="MARKS"]')) == 2  # one hole, one vent
    words = {text.dxf.text for text in document.query('TEXT[layer=="TEXT"]')}
    assert {"3  HB queen  1696 x 796", "invented stamp"} <= words
    assert any("100 x 100" in line for line in words)
    layers = {layer.dxf.name for layer in document.layers}
    assert {"PIECES", "STOCK", "MARKS", "TEXT", "CHECK"} <= layers


def test_views_of_a_block_stand_beside_each_other(foam: MaterialPlan, tmp_path: Path) -> None:
    """Plan A at the origin, plan B one block and half a metre to the right; heights in words."""
    document = _read(foam, 0, tmp_path)
    outlines = _outlines(document, "PIECES")
    assert len(outlines) == 5 + 2
    assert outlines[0][0] == (15.0, 20.0)
    assert outlines[5][0] == (15.0 + 2100.0 + 500.0, 20.0)
    words = {text.dxf.text for text in document.query("TEXT")}
    assert "Plan A: sheets 1–10, 100 thick" in words
    assert "Lower faces at 1025 from the raw bottom" in words


def test_columns_of_a_block_are_drawn_once(foam: MaterialPlan, tmp_path: Path) -> None:
    """Three columns that hold pieces; their stacks are listed in words."""
    document = _read(foam, 1, tmp_path)
    assert len(_outlines(document, "PIECES")) == 3
    words = [text.dxf.text for text in document.query("TEXT")]
    (stack,) = [line for line in words if line.startswith("Column A.1:")]
    assert "100 at 0, 100 at 100.5" in stack


def test_hostile_words_pass_the_audit(hostile: Plan, tmp_path: Path) -> None:
    """Nothing in a name can end a text or start a code."""
    document = _read(hostile.materials[0], 0, tmp_path)
    assert document.audit().errors == []


def test_codes_of_the_format_are_taken_out_of_words(tmp_path: Path) -> None:
    """Two percent signs would switch underlining on, a caret would make a tab."""
    scene = Scene(title="t", width=1, height=1, items=(Text(0, 0, "50%%u off ^I %%%%d", 2.0),))
    write_dxf(scene, tmp_path / "t.dxf")
    (text,) = ezdxf.readfile(tmp_path / "t.dxf").query("TEXT")
    assert "%%" not in text.dxf.text
    assert "^I" not in text.dxf.text


def test_every_primitive_is_written(tmp_path: Path) -> None:
    """Polygon, line, longer line, circle and text, each as one entity."""
    items = (
        Polygon(((0, 0), (3, 0), (0, 4)), Layer.PIECES),
        Line(((0, 0), (1, 1)), Layer.CUTS),
        Line(((0, 0), (1, 1), (2, 0)), Layer.MARKS),
        Circle(5, 6, 7, Layer.MARKS),
        Text(1, 2, "words", 3.0, "middle", 90.0),
    )
    write_dxf(Scene(title="t", width=9, height=9, items=items), tmp_path / "t.dxf")
    space = ezdxf.readfile(tmp_path / "t.dxf").modelspace()
    assert [entity.dxftype() for entity in space] == ["LWPOLYLINE", "LINE", "LWPOLYLINE", "CIRCLE", "TEXT"]
    assert not space[2].closed
    assert (space[3].dxf.center.xyz, space[3].dxf.radius) == ((5, 6, 0), 7)
    assert (space[4].dxf.height, space[4].dxf.rotation) == (3.0, 90.0)


def test_a_drawing_that_fails_its_audit_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line in a line type that does not exist is what the audit would have to mend."""

    def spoilt(scene: Scene) -> Drawing:
        document = dxf_document(scene)
        document.modelspace().add_line((0, 0), (1, 1), dxfattribs={"linetype": "NO SUCH"})
        return document

    monkeypatch.setattr("nesting.drawing.dxf.dxf_document", spoilt)
    scene = Scene(title="t", width=1, height=1, items=(Line(((0, 0), (1, 1)), Layer.PIECES),))
    with pytest.raises(FileError, match=r"t\.dxf: not written, the drawing does not pass its check"):
        write_dxf(scene, tmp_path / "t.dxf")
    assert list(tmp_path.iterdir()) == []
