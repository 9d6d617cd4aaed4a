"""Long blocks as they are cut to length: strips with metre marks, their parts and their cuts in order."""

from __future__ import annotations

from nesting.drawing.facts import header
from nesting.drawing.ladder import PLAIN
from nesting.drawing.legend import draw_in_columns, height_in_columns, list_pages
from nesting.drawing.paper import Page, Paper, without_notices
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.scene import Anchor, Layer, Text
from nesting.drawing.sketch import Box
from nesting.drawing.tables import Column, Row, Table, rows_that_fit
from nesting.longblocks import LongBlock, kept_rest, length_cuts, long_blocks
from nesting.measures import cut_measure, measure, ruler, shown_amount, unit, with_unit
from nesting.model import BlockMaterial, MaterialPlan, Plan

__all__ = ["long_pages"]

STRIP, TITLE, RULER, AFTER = 6.0, 2.4, 4.0, 2.0
"""Heights of the strip, its title, the metre marks below it and the room after its list, over the letters."""

TICK = 0.8
"""Length of a metre mark, over the height of the letters."""

SAME = 1e-6  # mm

COLUMNS = (
    Column("Cut", "end"),
    Column("From the left end", "end"),
    Column("From the fresh face", "end"),
    Column("Frees"),
    Column("Goes to"),
)


def long_pages(plan: Plan, material_plan: MaterialPlan, paper: Paper) -> list[Page]:
    """The pages that show where long blocks are cut to length; none where there are no long blocks."""
    material = material_plan.material
    if not isinstance(material, BlockMaterial):
        return []
    blocks = list(long_blocks(material, material_plan.layouts, material_plan.shelf))
    if not blocks:
        return []
    number = sum(block.count for block in blocks)
    taken = sum((block.material.length - kept_rest(block.material, block)) * block.count for block in blocks)
    sizes = [(block.material.length, block.material.width, block.material.height) for block in blocks]
    raw = "; ".join(" x ".join(measure(side) for side in size) for size in dict.fromkeys(sizes))
    longest = max(size[0] for size in sizes)
    made = header(
        plan,
        material_plan,
        "Cut to length first: vertical saw, across the long block",
        more=[
            ("Raw long block", f"{raw} {unit()}"),
            ("Longest part", with_unit(material.cut_to or 0.0)),
            ("Saw cut (kerf)", f"{cut_measure(material.kerfs.upright)} {unit()}"),
            ("Long blocks", str(number)),
            ("Length taken", shown_amount(taken / 1000.0, "m", 2)),
        ],
    )
    least = paper.least
    page = Page(paper, made)
    pages = [page]
    high = page.body.high
    for block in blocks:
        table = _table(block.material, block)
        picture = (TITLE + STRIP + RULER) * least
        lists = height_in_columns(table, page.body.width, least)
        if high < page.body.high and high - page.body.low < picture + lists:
            page = Page(paper, without_notices(made))
            pages.append(page)
            high = page.body.high
        _draw_block(page, block, longest, high)
        high -= picture
        if rows_that_fit(high - page.body.low, least) == 0:
            rest: tuple[Table, ...] = (table,)
        else:
            area = Box(page.body.left, page.body.low, page.body.right, high)
            rest = draw_in_columns(page, table, area, least)
        more = list_pages(rest, paper, without_notices(made))
        pages += more
        high = page.body.low if more else high - lists - AFTER * least
    return pages


def _table(material: BlockMaterial, block: LongBlock) -> Table:
    """The cuts of a long block; what lies beyond the last is told in its last row."""
    rows: list[Row] = []
    cuts = length_cuts(material, block)
    for number, cut in enumerate(cuts, start=1):
        if cut.layout is None:
            frees, goes = "skin, left end" if cut.length else "only dust", "rebond (skin)"
        else:
            frees, goes = f"part {measure(cut.length)} long", f"layout {cut.layout + 1}"
        cells = (str(number), cut_measure(cut.measure), cut_measure(cut.length), frees, goes)
        rows.append(Row(cells))
    end = _end(material, block)
    if len(cuts) and material.length - block.end > SAME:
        rows.append(Row(("", "", "", f"beyond: {end[0]}", end[1])))
    else:
        # The last part reaches to the raw end: nothing is left to be cut off it.
        rows.append(Row(("", "", "", f"part {measure(block.parts[-1].length)} long", _layout(block))))
    return Table(f"Cuts of {block.name}, from its left end on", COLUMNS, tuple(rows))


def _layout(block: LongBlock) -> str:
    return f"layout {block.parts[-1].layout + 1}"


def _end(material: BlockMaterial, block: LongBlock) -> tuple[str, str]:
    """What is left beyond the last cut, and where it goes."""
    kept = kept_rest(material, block)
    if kept:
        return f"rest {measure(kept)} long", "stock"
    left = max(0.0, material.length - block.end - material.kerfs.upright)
    if left <= material.skins.x1 + SAME:
        return ("skin, right end", "rebond (skin)") if left > SAME else ("only dust", "")
    return f"end {measure(left)} long", "rebond"


def _draw_block(page: Page, block: LongBlock, longest: float, high: float) -> None:
    """The strip of one long block below `high`, to the same scale as all others of the material."""
    least, left, material = page.paper.least, page.body.left, block.material
    per_mm = page.body.width / longest
    times = "" if block.count == 1 else f" ({block.count} blocks, all cut like this)"
    words = f"{block.name[0].upper()}{block.name[1:]}{times}"
    page.add(Text(left, high - 1.4 * least, words, 1.1 * least, bold=True))
    top = high - TITLE * least
    low = top - STRIP * least

    def area(start: float, end: float) -> Box:
        return Box(left + start * per_mm, low, left + end * per_mm, top)

    page.rect(area(0.0, material.length), Layer.TRIM)
    for number, part in enumerate(block.parts, start=1):
        box = area(part.start, part.end)
        page.rect(box, Layer.PIECES, PLAIN)
        size = Words(measure(part.length))
        layout = f"layout {part.layout + 1}"
        choices = (
            (Words(f"part {number}", bold=True), Words(layout), size),
            (Words(str(number), bold=True), size),
            (Words(str(number), bold=True),),
        )
        draw_label(page, choices, (box,), 1.4 * least, least)
    kept = kept_rest(material, block)
    if kept:
        box = area(material.length - kept, material.length)
        page.rect(box, Layer.REMNANTS)
        one = Words(f"KEEP {measure(kept)}", bold=True)
        draw_label(page, ((one,), (Words("KEEP", bold=True),)), (box,), 1.4 * least, least)
    page.rect(area(0.0, material.length), Layer.STOCK)
    marks = ruler()
    for mark in range(int(material.length / marks.whole + SAME) + 1):
        x = left + mark * marks.whole * per_mm
        page.line((x, low), (x, low - TICK * least), layer=Layer.DIMENSIONS)
        anchor: Anchor = "start" if mark == 0 else "end" if x > page.body.right - 2.0 * least else "middle"
        words = f"{mark} {marks.unit}" if mark % 5 == 0 else str(mark)
        page.add(Text(x, low - (TICK + 1.5) * least, words, least, anchor))
