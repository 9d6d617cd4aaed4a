"""Labels: one for every piece, in cutting order, and the same in words and code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from nesting.drawing.cutlist import cut_list_rows
from nesting.drawing.label_sheets import GRIDS, ROLL, LabelSheet, label_pages, label_sheet, read_size
from nesting.drawing.labels import PieceLabel, RestLabel, draw_label_in, piece_labels, rest_labels
from nesting.drawing.paper import DrawingError
from nesting.drawing.pdf import write_pdf
from nesting.drawing.scene import Scene
from nesting.drawing.sketch import Box
from nesting.drawing.tiles import SHEETS
from nesting.model import MaterialPlan, Plan, Remnant, StockPiece, StockUse
from nesting.sawplan import saw_plans
from tests.drawing.pdf_reading import POINT


def _pages(labels: list[PieceLabel] | list[RestLabel], sheet: LabelSheet, **more: int) -> tuple[Scene, ...]:
    return label_pages(labels, draw_label_in, sheet, "Labels", **more)


def _codes(path: Path, resolution: float = 300.0) -> list[tuple[int, str]]:
    """Page and words of all codes, read by other programs: drawn at the resolution of an office printer."""
    pdfium = pytest.importorskip("pypdfium2", reason="pypdfium2, which draws PDF pages, is not installed")
    zxing = pytest.importorskip("zxingcpp", reason="zxing-cpp, which reads codes, is not installed")
    found = []
    for number, page in enumerate(pdfium.PdfDocument(path)):
        picture = page.render(scale=resolution / 72).to_numpy()
        places = zxing.read_barcodes(picture, formats=zxing.BarcodeFormat.QRCode)
        found += [(number, place.text) for place in places]
    return found


def test_every_piece_of_every_order_has_one_label(plan: Plan) -> None:
    """n of m runs through each order line and panel without a gap, for all materials."""
    for material_plan in plan.materials:
        labels = list(piece_labels(plan, material_plan))
        pieces = sum(len(layout.placements) * layout.repeats for layout in material_plan.layouts)
        assert len(labels) == pieces
        each = Counter((label.order, label.due, label.position, label.number) for label in labels)
        assert set(each.values()) == {1}
        for demand_number, demand in enumerate(material_plan.demands, start=1):
            for share in demand.orders:
                mine = [
                    label for label in labels if (label.position, label.order) == (demand_number, share.order)
                ]
                assert sorted(label.number for label in mine) == list(range(1, len(mine) + 1))
                assert {label.of for label in mine} <= {share.pieces}


def test_labels_come_in_cutting_order_lay_by_lay(ticking: MaterialPlan, plan: Plan) -> None:
    """The first marker takes three lays of 10, 10 and 5 plies; its 21 cuts are stacks of labels in each."""
    labels = [label for label in piece_labels(plan, ticking) if label.layout == 1]
    assert [label.lay for label in labels] == [1] * 210 + [2] * 210 + [3] * 105
    sequence = [label.sequence for label in labels if label.lay == 3]
    assert sequence == [cut for cut in range(1, 22) for _ in range(5)]


def test_labels_agree_with_the_cut_list(plan: Plan) -> None:
    """As many labels of an order at a cut as the list says; blocks have their saw plan instead."""
    for material_plan in plan.materials:
        if material_plan.material.kind == "block":
            continue
        said = Counter()
        for row in cut_list_rows(material_plan):
            for part in row.orders.split("; "):
                order, _, count = part.rpartition(" x")
                said[row.layout, row.sequence, row.position, order] += int(count)
        labels = piece_labels(plan, material_plan)
        assert Counter((lb.layout, lb.sequence, lb.position, lb.order) for lb in labels) == said


def test_labels_of_a_block_follow_its_saw_plan(foam: MaterialPlan, plan: Plan) -> None:
    """The number of the saw cut that frees the piece; orders as in the list of the saw plan."""
    labels = list(piece_labels(plan, foam))
    said = Counter()
    for number, saw in enumerate(saw_plans(foam, "order"), start=1):
        for cut in saw.cuts:
            for freed in cut.frees:
                for part in freed.goes_to.split("; ") if freed.key else ():
                    order, _, count = part.rpartition(" x")
                    said[number, cut.number, order] += int(count)
    assert Counter((label.layout, label.sequence, label.order) for label in labels) == said
    first = [label.sequence for label in labels if label.layout == 1]
    assert first == sorted(first)
    assert {label.lay for label in labels if label.layout == 1} == {0}  # three blocks are cut alike


def test_one_layout_can_be_had_alone_and_stays_the_same(ticking: MaterialPlan, plan: Plan) -> None:
    """Who gets which piece does not depend on what is printed."""
    every = [label for label in piece_labels(plan, ticking) if label.layout == 2]
    assert list(piece_labels(plan, ticking, only={2})) == every


@pytest.mark.parametrize(
    ("size", "sheet"), [((70, 36), "A4"), ((50, 24), ROLL), ((66.7, 25.4), "Letter"), ((100, 150), ROLL)]
)
def test_codes_say_what_the_words_say(
    size: tuple[float, float], sheet: str, ticking: MaterialPlan, plan: Plan, tmp_path: Path
) -> None:
    """Printed, drawn at 300 dots per inch, and read by an independent reader; the words by another."""
    shown = replace(plan, number="0a1b2c3d")
    labels = [label for label in piece_labels(shown, ticking) if label.layout == 2][:12]
    labels += list(piece_labels(shown, ticking))[:12]
    write_pdf(_pages(labels, label_sheet(size, sheet)), tmp_path / "labels.pdf", "Labels")
    words = "\n".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "labels.pdf").pages)
    codes = Counter(code for _, code in _codes(tmp_path / "labels.pdf"))
    assert codes == Counter(";".join(label.fields) for label in labels)
    for label in labels:
        for field in (label.order, label.model, label.size, label.code, label.panel, label.count, label.plan):
            assert field in words
        assert not label.due or f"due {label.due}" in words


def test_hostile_names_are_read_back_as_they_are(hostile: Plan, tmp_path: Path) -> None:
    """Semicolons in names become commas, so that fields can be told apart; other letters stay."""
    (first, *_) = piece_labels(hostile, hostile.materials[0])
    label = replace(first, panel="Seite; links Größe é", model="超大号", size="x" * 40, order="A;1")
    write_pdf(_pages([label], label_sheet((100, 60), ROLL)), tmp_path / "labels.pdf", "Labels")
    ((_, code),) = _codes(tmp_path / "labels.pdf")
    fields = code.split(";")
    assert len(fields) == len(label.fields)
    assert fields[6] == "Seite, links Größe é"
    assert fields[3] == "超大号"
    assert fields[1] == "A,1"
    write_pdf(_pages([first], label_sheet((100, 60), ROLL)), tmp_path / "evil.pdf", "Labels")


def test_rests_say_what_they_are_and_leave_room_for_what_is_not_known(
    ticking: MaterialPlan, plan: Plan, tmp_path: Path
) -> None:
    """The id of the roll it came from, its size and plan; lines for its own id and lot."""
    rests = (
        Remnant(source="roll 2", length=2048, width=2200, quantity=2),
        Remnant(source="roll 3", length=1, width=2),
    )
    stock = (StockUse(name="roll 2", cuts=((0, 1),), used=9000, rest=2048, piece="R-0007"),)
    shelf = (StockPiece(id="R-0007", material="ticking", length=11_048, width=2200, lot="shade 4"),)
    labels = list(rest_labels(plan, replace(ticking, remnants=rests, stock=stock, shelf=shelf)))
    assert [(label.id, label.number, label.of) for label in labels] == [
        ("R-0007", 1, 2),
        ("R-0007", 2, 2),
        ("", 1, 1),
    ]
    write_pdf(_pages(labels[:1], label_sheet((70, 36), ROLL)), tmp_path / "rests.pdf", "Rests")
    words = pypdf.PdfReader(tmp_path / "rests.pdf").pages[0].extract_text()
    for part in (
        "REST",
        "2048 x 2200 mm",
        "from R-0007, roll 2",
        "own id",
        "lot shade 4",
        "Quilted ticking, damask white",
    ):
        assert part in words
    ((_, code),) = _codes(tmp_path / "rests.pdf")
    assert code.split(";")[:5] == ["rest", "R-0007", "shade 4", "ticking", "2048x2200x0"]


def test_sheets_hold_as_many_labels_as_fit_in_the_middle(tmp_path: Path) -> None:
    """A4 takes 3 x 8 labels of 70 x 37 with half a millimetre above (297 - 8 x 37 = 1)."""
    sheet = label_sheet((70, 37), "A4")
    assert (sheet.columns, sheet.rows, sheet.left, sheet.top) == (3, 8, 0.0, 0.5)
    assert sheet.boxes()[0] == Box(0.0, 259.5, 70.0, 296.5)
    assert label_sheet((70, 36), "A4").top == 4.5
    stated = label_sheet((60, 30), "A4", (5.0, 8.5), (2.0, 1.0))
    assert stated.boxes()[1][:2] == (67.0, 297.0 - 8.5 - 30.0)
    for (paper, width, height), (columns, rows, across) in GRIDS.items():
        found = label_sheet((width, height), paper)
        assert (found.columns, found.rows, found.across) == (columns, rows, across)
        boxes = found.boxes()
        assert min(box.left for box in boxes) >= 0
        assert max(box.right for box in boxes) <= SHEETS[paper][0]
        assert min(box.low for box in boxes) >= 0


def test_begun_sheets_are_used_up_and_rolls_have_a_page_for_each(
    ticking: MaterialPlan, plan: Plan, tmp_path: Path
) -> None:
    """The first label on the last place of the first sheet, the others on the second."""
    labels = list(piece_labels(plan, ticking))[:4]
    write_pdf(_pages(labels, label_sheet((70, 37)), first=24), tmp_path / "labels.pdf", "Labels")
    assert [page for page, _ in _codes(tmp_path / "labels.pdf")] == [0, 1, 1, 1]
    write_pdf(_pages(labels, label_sheet((100, 60), ROLL)), tmp_path / "roll.pdf", "Labels")
    pages = pypdf.PdfReader(tmp_path / "roll.pdf").pages
    assert len(pages) == 4
    assert float(pages[0].mediabox.width) * POINT == pytest.approx(100, abs=0.01)


def test_words_of_a_label_stay_on_it(
    ticking: MaterialPlan, hostile: Plan, page_faults: Callable[[Scene, float], list[str]]
) -> None:
    """Even the longest names, on the smallest label."""
    for size in ((50, 24), (70, 36), (120, 40)):
        labels = list(piece_labels(hostile, hostile.materials[0]))[:3]
        for page in _pages(labels, label_sheet(size, ROLL)):
            assert page_faults(page, 1.2) == []


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: label_sheet((30, 10)), "from 50 x 24"),
        (lambda: label_sheet((70, 36), "A9"), "A4, .*roll"),
        (lambda: label_sheet((250, 36), "A4"), "does not fit on A4"),
        (lambda: read_size("seventy", "labels"), "such as 70x36"),
        (lambda: label_pages([], draw_label_in, label_sheet((70, 37)), "t", first=25), "1 to 24"),
    ],
)
def test_impossible_sheets_are_refused(make: Callable[[], object], words: str) -> None:
    """With what is allowed."""
    with pytest.raises(DrawingError, match=words):
        make()


def test_sizes_are_read_as_people_write_them() -> None:
    """Decimal comma or point, spaces or none."""
    assert read_size("63,5 x 38.1", "labels") == (63.5, 38.1)
