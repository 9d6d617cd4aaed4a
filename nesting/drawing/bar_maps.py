"""Maps of material that is only cut to length: each pattern a strip, several patterns to a page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.drawing.facts import header, often
from nesting.drawing.legend import draw_in_columns, height_in_columns, legend, list_pages
from nesting.drawing.lettering import shortened, wrapped
from nesting.drawing.paper import Page, Paper, without_notices
from nesting.drawing.piece_labels import Words, draw_label, label_choices
from nesting.drawing.pieces import PlacedPiece, measure, placed_pieces
from nesting.drawing.scene import Layer, Style, Text, piece_style
from nesting.drawing.sketch import Box
from nesting.drawing.stock_facts import stock_words
from nesting.drawing.tables import Table
from nesting.measures import with_unit
from nesting.model import Layout, MaterialPlan, Plan, RollMaterial

__all__ = ["bar_pages"]

STRIP, TITLE, LINE, AFTER = 4.5, 2.0, 1.8, 2.2
"""Heights of the strip, its title, a line of its list and the room after it, over the smallest letters."""

LEAST_PIECE = 1.6
"""Neighbours alike are drawn as one where each would be narrower, over the height of the smallest letters."""

LEGEND_TITLE = 'Pieces on this page ("Here": from all bars on it)'
SAME = 1e-6  # mm


@dataclass(frozen=True, slots=True)
class _Bar:
    """One pattern, with the list below its strip broken into lines."""

    index: int
    layout: Layout
    pieces: tuple[PlacedPiece, ...]
    lines: tuple[str, ...]

    @property
    def used(self) -> float:
        """Where the last piece ends, mm."""
        return max((p.placement.x + p.demand.panel.length for p in self.pieces), default=0.0)

    def height(self, least: float) -> float:
        """Height on the page, mm."""
        return (TITLE + STRIP + LINE * len(self.lines) + AFTER) * least


def bar_pages(plan: Plan, material_plan: MaterialPlan, paper: Paper) -> list[Page]:
    """The pages of all patterns of a material that is cut to length."""
    material = material_plan.material
    assert isinstance(material, RollMaterial)
    least = paper.least
    total = len(material_plan.layouts)
    longest = max(layout.length for layout in material_plan.layouts)
    width = paper.width - 2.0 * paper.margin
    bars = []
    for index, layout in enumerate(material_plan.layouts):
        pieces = placed_pieces(material_plan, index)
        bars.append(_Bar(index, layout, pieces, tuple(wrapped(_list(layout, pieces), width, least))))
    bars_in_all = sum(layout.repeats for layout in material_plan.layouts)
    pieces_in_all = sum(layout.repeats * len(layout.placements) for layout in material_plan.layouts)
    pages: list[Page] = []
    while bars:
        heading = f"Cut to length: {total} pattern{'s' if total > 1 else ''}"
        made = header(
            plan,
            material_plan,
            heading,
            more=[
                ("Longest bar or roll", with_unit(longest)),
                ("Bars or rolls in all", str(bars_in_all)),
                ("Pieces in all", str(pieces_in_all)),
            ],
        )
        page = Page(paper, without_notices(made) if pages else made)
        count = _bars_that_fit(bars, page.body, least)
        high = page.body.high
        for bar in bars[:count]:
            _draw_bar(page, material_plan, bar, page.body.width / longest, high)
            high -= bar.height(least)
        rest = draw_in_columns(
            page, _legend(bars[:count]), Box(page.body.left, page.body.low, page.body.right, high), least
        )
        pages += [page, *list_pages(rest, paper, without_notices(made))]
        bars = bars[count:]
    return pages


def _list(layout: Layout, pieces: Sequence[PlacedPiece]) -> str:
    """What to cut from one bar, in words: ``"7 x no. 1 (7033)"``."""
    counts = Counter((piece.number, piece.demand.panel.length) for piece in pieces)
    return ",  ".join(
        f"{count} x no. {number} ({measure(length)})" for (number, length), count in counts.items()
    )


def _legend(bars: Sequence[_Bar]) -> Table:
    """The pieces of some patterns, counted over all bars."""
    times: Counter[int] = Counter()
    for bar in bars:
        for piece in bar.pieces:
            times[piece.number] += bar.layout.repeats
    return legend([piece for bar in bars for piece in bar.pieces], times, LEGEND_TITLE, times)


def _bars_that_fit(bars: Sequence[_Bar], body: Box, least: float) -> int:
    count = 1
    for more in range(2, len(bars) + 1):
        lists = height_in_columns(_legend(bars[:more]), body.width, least)
        need = sum(bar.height(least) for bar in bars[:more]) + lists
        if need > body.height:
            break
        count = more
    return count


def _draw_bar(page: Page, material_plan: MaterialPlan, bar: _Bar, stretch: float, high: float) -> None:
    """One pattern below `high`; `stretch` is mm of paper per mm of bar, along it only."""
    least, left = page.paper.least, page.body.left
    material = material_plan.material
    assert isinstance(material, RollMaterial)
    rest = bar.layout.length - bar.used
    keep = rest >= material.min_remnant
    stock = stock_words(material_plan, bar.index)
    words = (
        f"Pattern {bar.index + 1}: {often(material_plan, bar.layout)};  bar {measure(bar.layout.length)}, "
    )
    words += f"rest {measure(rest)}{' (keep)' if keep else ''}"
    words += f";  from {stock}" if stock else ""
    words = shortened(words, page.body.width, 1.1 * least, bold=True)
    page.add(Text(left, high - 1.4 * least, words, 1.1 * least, bold=True))
    top = high - TITLE * least
    low = top - STRIP * least
    for run in _runs(bar, LEAST_PIECE * least / stretch):
        first, last = run[0], run[-1]
        style = piece_style(first.kind)
        start, end = first.placement.x, last.placement.x + last.demand.panel.length
        box = Box(left + start * stretch, low, left + end * stretch, top)
        page.rect(box, Layer.PIECES, style)
        choices = label_choices(first)
        if len(run) > 1:
            number = f"{len(run)} x no. {first.number}"
            sizes = f"{number} ({measure(first.demand.panel.length)})"
            choices = tuple((Words(words),) for words in (sizes, number))
        draw_label(page, choices, (box,), 1.3 * least, least, Style(width=0.0, fill=style.fill))
    if rest > SAME:
        box = Box(left + bar.used * stretch, low, left + bar.layout.length * stretch, top)
        page.rect(box, Layer.REMNANTS if keep else Layer.TRIM)
        if keep:
            choices = ((Words(f"KEEP {measure(rest)}", bold=True),), (Words(measure(rest)),))
            draw_label(page, choices, (box,), 1.3 * least, least)
    page.rect(Box(left, low, left + bar.layout.length * stretch, top), Layer.STOCK)
    for line, words in enumerate(bar.lines, start=1):
        page.add(Text(left, low - (LINE * line - 0.2) * least, words, least))


def _runs(bar: _Bar, least: float) -> list[list[PlacedPiece]]:
    """The pieces along the bar; neighbours alike and shorter than `least` mm are put together."""
    runs: list[list[PlacedPiece]] = []
    for piece in sorted(bar.pieces, key=lambda piece: piece.placement.x):
        alike = bool(runs) and runs[-1][0].number == piece.number
        if alike and piece.demand.panel.length < least:
            runs[-1].append(piece)
        else:
            runs.append([piece])
    return runs
