"""The pictures of a comparison, and the one page to take to a meeting."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from nesting.comparing.charts import POINT, draw_curves, draw_heat_map, rows_shown
from nesting.comparing.results import Comparison
from nesting.comparing.words import best_choices, breakpoint_words, subject, variant_name
from nesting.drawing.lettering import CAPITAL, shortened, wrapped
from nesting.drawing.paper import find_paper
from nesting.measures import unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["curve_figure", "heat_map_figure", "meeting_page", "plain_style"]

A4_WIDTH = 297.0
MARGIN = 10.0
MOST_ROWS = 18
MOST_POINTS = 3
MOST_TEXT = 0.5
"""Share of the page that words may take before they are made smaller."""

LEADING = 1.42
"""Distance of lines over the size of the type."""

CAUTION = (
    "Reckoned for cutting only. Less seam, crown or foam, or another cloth, changes the product: try it, and "
    "ask a qualified test laboratory whether earlier fire and durability tests still hold."
)


@contextmanager
def plain_style() -> Iterator[None]:
    """Letters as letters in SVG and PDF, and the same file for the same comparison."""
    from matplotlib import rc_context

    values = {
        "font.family": "DejaVu Sans",
        "svg.fonttype": "none",
        "svg.hashsalt": "nesting",
        "pdf.fonttype": 42,
        "hatch.linewidth": 0.4,
        "axes.linewidth": 0.6,
    }
    with rc_context(values):  # type: ignore[arg-type]
        yield


class _Sheet:
    """A figure on which places are mm from the lower left corner."""

    def __init__(self, width: float, height: float) -> None:
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self.figure = Figure(figsize=(width / 25.4, height / 25.4), facecolor="#FFFFFF")

    def axes(self, left: float, low: float, width: float, height: float):  # type: ignore[no-untyped-def]
        """Axes in a box."""
        return self.figure.add_axes(
            (left / self.width, low / self.height, width / self.width, height / self.height)
        )

    def words(
        self, left: float, base: float, text: str, size: float, *, bold: bool = False, right: bool = False
    ) -> None:
        """One line; `base` is its base line, `size` in points."""
        self.figure.text(
            left / self.width,
            base / self.height,
            text,
            fontsize=size,
            fontweight="bold" if bold else "normal",
            ha="right" if right else "left",
            va="baseline",
        )

    def lines(self, left: float, high: float, lines: list[tuple[str, bool]], size: float) -> float:
        """Lines below each other, some bold, from `high` down; where the next would begin."""
        step = LEADING * size * POINT
        for text, bold in lines:
            high -= step
            if text:
                self.words(left, high, text, size, bold=bold)
        return high


def _legend(comparison: Comparison, *, mixed: bool) -> str:
    text = (
        f"In each field: waste, and below it {comparison.currency} a bed. Thick frame: cheapest of its row. "
        "Dashed: may be as cheap, for all that is proven."
    )
    if mixed:
        text += " In the mix: what the size adds; in gaps: less than its own pieces, as it fills gaps."
    return text


def heat_map_figure(comparison: Comparison) -> Figure:
    """All cases against all variants, alone and, where there is one, in the mix."""
    mixed = bool(comparison.orders)
    size, cell_high, name_room = 8.0, 9.0, 52.0
    cell_wide = 24.0 if mixed else 20.0
    count, rows = len(comparison.variants), len(comparison.rows)
    maps = 2 if mixed else 1
    wide, high = cell_wide * count, cell_high * rows
    width = max(MARGIN * 2 + name_room + maps * wide + (maps - 1) * 8.0, 170.0)
    legend = wrapped(_legend(comparison, mixed=mixed), width - 2 * MARGIN, 0.9 * size * POINT * CAPITAL)
    foot = MARGIN + len(legend) * LEADING * size * POINT
    height = foot + high + 34.0
    sheet = _Sheet(width, height)
    title = f"{comparison.material.name}: waste and cost by {subject(comparison)}, {unit()}"
    sheet.words(
        MARGIN,
        height - MARGIN,
        shortened(title, width - 2 * MARGIN, 11 * POINT * CAPITAL, bold=True),
        11,
        bold=True,
    )
    for number in range(maps):
        left = MARGIN + name_room + number * (wide + 8.0)
        heading = "In the mix" if number else "Each size alone"
        sheet.words(left, height - MARGIN - 7.0, heading, size, bold=True)
        axes = sheet.axes(left, foot, wide, high)
        draw_heat_map(
            axes,
            comparison,
            range(rows),
            mixed=bool(number),
            size=size,
            names=not number,
            room=name_room - 3.0,
        )
    sheet.lines(MARGIN, foot - 1.0, [(line, False) for line in legend], 0.9 * size)
    return sheet.figure


def curve_figure(comparison: Comparison) -> Figure:
    """Waste over one side of the material."""
    sheet = _Sheet(230.0, 140.0)
    title = f"{comparison.material.name}: waste by {comparison.material.kind} {comparison.axis}"
    sheet.words(
        MARGIN, 140.0 - MARGIN, shortened(title, 205.0, 11 * POINT * CAPITAL, bold=True), 11, bold=True
    )
    axes = sheet.axes(30.0, 30.0, 140.0, 82.0)
    draw_curves(axes, comparison, list(enumerate(comparison.breakpoints, start=1)), size=8.0, room=48.0)
    notes = wrapped(_curve_note(), 210.0, 7.0 * POINT * CAPITAL)
    sheet.lines(MARGIN, 17.0, [(line, False) for line in notes], 7.0)
    return sheet.figure


def _curve_note() -> str:
    return (
        "Each mark is a plan: there one more combination fits. Up to the next mark that plan stays, so what "
        "is wider is waste. Numbers: breakpoints, in the order of the list."
    )


def meeting_page(comparison: Comparison, paper: str) -> Figure:
    """One page, lying: what was compared, heat map, curve, best choices, breakpoints, assumptions."""
    shape = find_paper(paper)
    scale = shape.width / A4_WIDTH  # designed on A4; larger paper has larger letters
    sheet = _Sheet(shape.width, shape.height)
    margin = MARGIN * scale
    wide = shape.width - 2 * margin
    size = 7.0 * scale
    cap = POINT * CAPITAL

    top = shape.height - margin - 4.0 * scale
    title = f"{comparison.material.name}: which {subject(comparison)}?"
    made = f"{comparison.made}, nesting {comparison.version}"
    sheet.words(
        margin, top, shortened(title, wide - 60 * scale, 14 * scale * cap, bold=True), 14 * scale, bold=True
    )
    sheet.words(shape.width - margin, top, made, size, right=True)
    top -= 6.0 * scale
    sheet.words(margin, top, shortened(_compared(comparison), wide, 8 * scale * cap), 8 * scale)

    column = 0.60 * wide
    gutter = 6.0 * scale
    numbered = list(enumerate(comparison.breakpoints[:MOST_POINTS], start=1))
    for letters in (8.0, 7.5, 7.0, 6.5, 6.0, 5.5):
        points = letters * scale
        left: list[tuple[str, bool]] = [("Best choices", True)]
        for words in best_choices(comparison):
            left += [(line, False) for line in wrapped(words, column, points * cap)]
        left += [("", False), ("Breakpoints: small changes that let another combination fit", True)]
        for number, point in numbered:
            head, fits, saves = breakpoint_words(comparison, point)
            left += [(line, True) for line in wrapped(f"{number}  {head}", column, points * cap, bold=True)]
            left += [(line, False) for line in wrapped(f"{fits} {saves}", column, points * cap)]
        if not numbered:
            nothing = "No change near the present values lets another combination fit that would save money."
            left += [(line, False) for line in wrapped(nothing, column, points * cap)]
        small = 0.88 * points
        right: list[tuple[str, bool]] = [("How it was reckoned", True)]
        for words in (
            *comparison.assumptions,
            _curve_note(),
            _legend(comparison, mixed=bool(comparison.orders)),
            CAUTION,
        ):
            right += [(line, False) for line in wrapped(words, wide - column - gutter, small * cap)]
            right.append(("", False))
        step = LEADING * points * POINT
        needed = max(len(left), 0.88 * len(right)) * step + 3.0 * scale
        if needed <= MOST_TEXT * (top - margin):
            break
    charts_low = margin + needed
    _charts(sheet, comparison, margin, charts_low, wide, top - 4.0 * scale, size, scale)
    sheet.lines(margin, charts_low - 2.0 * scale, left, points)
    sheet.lines(margin + column + gutter, charts_low - 2.0 * scale, right, small)
    return sheet.figure


def _compared(comparison: Comparison) -> str:
    models = list(dict.fromkeys(row.case.model_name for row in comparison.rows))
    sizes = len({row.case.size for row in comparison.rows})
    named = ", ".join(models[:4]) + (f" and {len(models) - 4} more models" if len(models) > 4 else "")
    names = ", ".join(variant_name(comparison, place) for place in range(len(comparison.variants)))
    count = f"{sizes} size{'s' if sizes > 1 else ''}"
    words = f"{comparison.range_name}. {named} in {count}; {subject(comparison)}: {names} {unit()}."
    return f"{words} Mix: {comparison.orders}." if comparison.orders else words


def _charts(
    sheet: _Sheet,
    comparison: Comparison,
    left: float,
    low: float,
    wide: float,
    high: float,
    size: float,
    scale: float,
) -> None:
    mixed = bool(comparison.orders)
    places = rows_shown(comparison, MOST_ROWS)
    names = 36.0 * scale
    head = (13.0 if comparison.material.kind != "block" else 18.0) * scale
    foot = 12.0 * scale
    share = 0.64 if mixed else 0.48
    maps = wide * share - names
    each = (maps - 4.0 * scale) / 2 if mixed else maps
    tall = min(high - head - low - foot + 6.0 * scale, len(places) * 12.0 * scale)
    cell = each / len(comparison.variants)
    below = min(size, tall / len(places) / 3.1 / POINT, cell / (4.4 if mixed else 3.4) / POINT)
    beside = min(size, tall / len(places) / 1.9 / POINT, cell / (8.4 if mixed else 7.4) / POINT)
    one_line = beside > below
    for number in range(2 if mixed else 1):
        start = left + names + number * (each + 4.0 * scale)
        sheet.words(start, high - 2.0 * scale, "In the mix" if number else "Each size alone", size, bold=True)
        axes = sheet.axes(start, high - head - tall, each, tall)
        draw_heat_map(
            axes,
            comparison,
            places,
            mixed=bool(number),
            size=max(below, beside),
            names=not number,
            room=names - 2.0 * scale,
            one_line=one_line,
        )
    if len(places) < len(comparison.rows):
        words = (
            f"{len(places)} of {len(comparison.rows)} models and sizes: those in which most depends on it."
        )
        sheet.words(left, high - head - tall - 4.0 * scale, words, 0.9 * size)
    one_model = len({row.case.model for row in comparison.rows}) == 1
    label = (34.0 if one_model else 42.0) * scale
    start = left + wide * share + 16.0 * scale
    room = left + wide - start - label
    axes = sheet.axes(start, low + foot, room, high - low - foot - 11.0 * scale)
    numbered = list(enumerate(comparison.breakpoints[:MOST_POINTS], start=1))
    sheet.words(
        start - 12.0 * scale,
        high - 2.0 * scale,
        f"Waste by {comparison.material.kind} {comparison.axis}",
        size,
        bold=True,
    )
    draw_curves(axes, comparison, numbered, size=0.93 * size, room=label - 0.04 * room - 1.0)
