"""Heat map and curves of a comparison, readable in black and white: numbers, frames, hatches, direct labels.

Colours are of the Okabe-Ito set (see `nesting.drawing.scene`); nothing is told by colour alone. All functions
draw into axes that the caller has placed, within `shown_for`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from nesting.comparing.results import Breakpoint, Comparison, Curve, InMix, Row
from nesting.comparing.words import almost, variant_name
from nesting.drawing.lettering import CAPITAL, shortened
from nesting.drawing.scene import BLUE, GREEN, GREY, ORANGE, PURPLE, SKY, VERMILION
from nesting.drawing.sketch import spread
from nesting.measures import fixed, measure, percent, unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["POINT", "case_names", "draw_curves", "draw_heat_map", "rows_shown"]

POINT = 25.4 / 72.0
"""mm."""

LINES: tuple[tuple[str, str, Any], ...] = (
    (BLUE, "o", "-"),
    (VERMILION, "s", (0, (6, 2))),
    (GREEN, "^", (0, (3, 1.5))),
    (PURPLE, "D", (0, (6, 1.5, 1, 1.5))),
    (ORANGE, "v", (0, (1.5, 1))),
    (SKY, "P", (0, (8, 2, 1, 2, 1, 2))),
)
DARK = 0.72
"""Share of the scale from which letters are white."""


def case_names(comparison: Comparison, rows: Sequence[Row]) -> list[str]:
    """Names of cases; without the model where there is only one."""
    one_model = len({row.case.model for row in comparison.rows}) == 1
    return [row.case.size_name if one_model else row.case.name for row in rows]


def rows_shown(comparison: Comparison, most: int) -> list[int]:
    """Places of the rows to show: all, or those in which most depends on the variant."""
    places = list(range(len(comparison.rows)))
    if len(places) <= most:
        return places

    def depends(place: int) -> float:
        costs = [one.cost for one in comparison.rows[place].alone if one.fits]
        return max(costs) - min(costs) if costs else -1.0

    return sorted(sorted(places, key=depends, reverse=True)[:most])


def draw_heat_map(
    axes: Axes,
    comparison: Comparison,
    places: Sequence[int],
    *,
    mixed: bool,
    size: float,
    names: bool,
    room: float,
    one_line: bool = False,
) -> None:
    """Waste as shade and number, cost below it: a row for each case, a column for each variant.

    The cheapest of a row has a thick frame; those that may be as cheap, by what is proven, a dashed one.

    Parameters
    ----------
    places
        Which rows.
    mixed
        What the cases add to the mix, instead of what they need alone.
    size
        Of the letters, points.
    names
        Whether the cases are named at the left.
    room
        For these names, mm.
    one_line
        Waste and cost beside each other, where rows are low.
    """
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.patches import Rectangle

    frame: Any = {"fill": False, "ec": "#000000", "zorder": 5}

    shades = LinearSegmentedColormap.from_list("waste", ["#FFFFFF", BLUE])
    rows = [comparison.rows[place] for place in places]
    top = max([one.waste for row in comparison.rows for one in row.alone if one.fits] or [1.0])
    for y, (place, row) in enumerate(zip(places, rows, strict=True)):
        best = row.best() if not mixed else _cheapest_mixed(row)
        for x, one in enumerate(row.alone):
            found = row.mixed[x] if mixed else (one if one.fits else None)
            if found is None:
                axes.add_patch(
                    Rectangle((x, y), 1, 1, facecolor="#F2F2F2", edgecolor=GREY, hatch="////", lw=0.4)
                )
                axes.text(
                    x + 0.5,
                    y + 0.5,
                    "-" if mixed else "does not fit" if one_line else "does\nnot fit",
                    ha="center",
                    va="center",
                    fontsize=size * 0.9,
                    backgroundcolor="#F2F2F2",
                    linespacing=0.95,
                )
                continue
            share = min(1.0, max(0.0, found.waste / top)) if top > 0 else 0.0
            axes.add_patch(Rectangle((x, y), 1, 1, facecolor=shades(share), edgecolor="#FFFFFF", lw=0.6))
            ink = "#FFFFFF" if share > DARK else "#000000"
            waste = percent(found.waste) if found.waste >= 0 else "in gaps"
            (x0, y0), (x1, y1) = ((0.27, 0.53), (0.75, 0.53)) if one_line else ((0.5, 0.36), (0.5, 0.72))
            axes.text(x + x0, y + y0, waste, ha="center", va="center", fontsize=size, color=ink)
            cost = fixed(found.cost, 2)
            if mixed and row.mixed[x] is not None:
                cost += f" ±{fixed(_doubt(row.mixed[x]), 1)}"
            axes.text(
                x + x1,
                y + y1,
                cost,
                ha="center",
                va="center",
                fontsize=size * 0.88,
                color=ink,
                fontweight="bold",
            )
        for x in range(len(row.alone)):
            if x == best:
                axes.add_patch(Rectangle((x + 0.03, y + 0.05), 0.94, 0.9, lw=min(1.6, 0.25 * size), **frame))
            elif not mixed and almost(comparison, place, x):
                axes.add_patch(Rectangle((x + 0.03, y + 0.05), 0.94, 0.9, lw=0.8, ls=(0, (3, 2)), **frame))
    count = len(comparison.variants)
    axes.set_xlim(0, count)
    axes.set_ylim(len(rows), 0)
    labels = [variant_name(comparison, place).replace(" x ", "\nx ") for place in range(count)]
    labels = [
        f"{label}\npresent" if variant.present else label
        for label, variant in zip(labels, comparison.variants, strict=True)
    ]
    axes.set_xticks([x + 0.5 for x in range(count)], labels, fontsize=size)
    axes.xaxis.tick_top()
    cap = size * POINT * CAPITAL
    words = [shortened(name, room, cap) for name in case_names(comparison, rows)] if names else []
    axes.set_yticks([y + 0.5 for y in range(len(rows))], words or [""] * len(rows), fontsize=size)
    axes.tick_params(length=0, pad=2)
    for spine in axes.spines.values():
        spine.set_visible(False)


def _doubt(mixed: InMix | None) -> float:
    if mixed is None:
        return 0.0
    return max(mixed.high - mixed.cost, mixed.cost - mixed.low)


def _cheapest_mixed(row: Row) -> int | None:
    """The cheapest in the mix, where it is told apart from all others by more than the doubt."""
    known = [(mixed.cost, x) for x, mixed in enumerate(row.mixed) if mixed is not None]
    if len(known) < 2:
        return None
    (cost, best), (second, other) = sorted(known)[:2]
    doubt = _doubt(row.mixed[best]) + _doubt(row.mixed[other])
    return best if second - cost > doubt else None


def draw_curves(
    axes: Axes, comparison: Comparison, points: Sequence[tuple[int, Breakpoint]], *, size: float, room: float
) -> None:
    """Waste over a side of the material: a line for each case, named at its end; breakpoints numbered.

    Parameters
    ----------
    points
        Breakpoints with their numbers; those on this side are marked.
    size
        Of the letters, points.
    room
        For the names to the right of the axes, mm.
    """
    low, high = comparison.span
    span = high - low
    ends: list[tuple[float, Curve, str]] = []
    everything: list[float] = []
    for number, curve in enumerate(comparison.curves):
        colour, marker, dashes = LINES[number % len(LINES)]
        bold = curve.whole
        xs, ys = _points(curve, high)
        if not xs:
            continue
        everything += ys
        axes.plot(
            xs, ys, color="#000000" if bold else colour, ls="-" if bold else dashes, lw=2.0 if bold else 1.2
        )
        starts = [(at, one.waste) for at, one in curve.steps if one.fits]
        axes.plot(
            [at for at, _ in starts],
            [waste for _, waste in starts],
            ls="none",
            marker=marker,
            ms=size * 0.55,
            mfc="#FFFFFF",
            mec="#000000" if bold else colour,
            mew=1.0,
        )
        ends.append((ys[-1], curve, "#000000" if bold else colour))
    axes.set_xlim(low, high)
    most, least = max(everything, default=1.0), min(everything, default=0.0)
    margin = 0.08 * max(most - least, 0.01)
    bottom, top = max(0.0, least - margin), most + 2.2 * margin
    axes.set_ylim(bottom, top)
    _name_ends(axes, comparison, ends, bottom, top, size, room)
    _mark(axes, comparison, points, size, span)
    sides = [getattr(variant.material, comparison.axis) for variant in comparison.variants]
    places = _told_apart(
        [*comparison.span, *sides, getattr(comparison.material, comparison.axis)], axes, size
    )
    axes.set_xticks(places, [measure(place) for place in places], fontsize=size)
    axes.set_yticks(axes.get_yticks(), [percent(y) for y in axes.get_yticks()], fontsize=size)
    axes.set_ylim(bottom, top)
    axis_name = f"{comparison.material.kind} {comparison.axis}, {unit()}"
    axes.set_xlabel(axis_name, fontsize=size)
    axes.set_ylabel("waste, share of material taken", fontsize=size)
    axes.grid(axis="y", color="#DDDDDD", lw=0.5)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _told_apart(places: Sequence[float], axes: Axes, size: float) -> list[float]:
    """Those of `places` whose numbers do not run into each other; later ones matter more."""
    low, high = axes.get_xlim()
    each = _on_paper(axes)[0] / max(high - low, 1e-9)
    kept: list[float] = []
    for place in reversed(places):
        words = max(len(measure(place)), 4)
        room = (words + 2) * 0.6 * size * POINT
        if low <= place <= high and all(abs(place - other) * each >= room for other in kept):
            kept.append(place)
    return sorted(kept)


def _points(curve: Curve, high: float) -> tuple[list[float], list[float]]:
    """The line: between two steps the plan stays, and waste grows with the material."""
    xs: list[float] = []
    ys: list[float] = []
    ends = [at for at, _ in curve.steps[1:]] + [high]
    for (at, one), end in zip(curve.steps, ends, strict=True):
        if not one.fits:
            continue
        for part in range(9):
            x = at + (end - at) * part / 8.0
            xs.append(x)
            ys.append(1.0 - one.pieces / (one.stock * one.each * x / at))
    return xs, ys


def _name_ends(
    axes: Axes,
    comparison: Comparison,
    ends: Sequence[tuple[float, Curve, str]],
    bottom: float,
    top: float,
    size: float,
    room: float,
) -> None:
    height = _on_paper(axes)[1]
    line = 1.6 * size * POINT / max(height, 1.0) * (top - bottom)
    ordered = sorted(ends, key=lambda end: end[0])
    places = spread([end[0] for end in ordered], line, bottom + line / 2, top - line / 2)
    names = {
        row.case.name: name
        for row, name in zip(comparison.rows, case_names(comparison, comparison.rows), strict=True)
    }
    for (y, curve, colour), place in zip(ordered, places, strict=True):
        words = shortened(names.get(curve.name, curve.name), room, size * POINT * CAPITAL)
        axes.annotate(
            words,
            xy=(1.0, y),
            xycoords=("axes fraction", "data"),
            xytext=(1.04, place),
            textcoords=("axes fraction", "data"),
            fontsize=size,
            va="center",
            color="#000000",
            fontweight="bold" if colour == "#000000" else "normal",
            arrowprops={"arrowstyle": "-", "color": colour, "lw": 0.8, "shrinkA": 1, "shrinkB": 0},
            annotation_clip=False,
        )


def _mark(
    axes: Axes, comparison: Comparison, points: Sequence[tuple[int, Breakpoint]], size: float, span: float
) -> None:
    """The present side, and the numbers of breakpoints, above the axes."""
    low, high = comparison.span
    present = getattr(comparison.material, comparison.axis)
    marks: list[tuple[float, str]] = []
    if low <= present <= high:
        axes.axvline(present, color="#000000", lw=0.8)
        marks.append((present, "present"))
    stock_name = f"{comparison.material.kind} {comparison.axis}"
    for number, point in points:
        if point.kind == "stock" and point.name == stock_name and low <= point.at <= high:
            axes.axvline(point.at, color="#000000", lw=0.8, ls=(0, (1, 2)))
            marks.append((point.at, f"{number}"))
    # Two marks close to each other stand on two lines.
    width = _on_paper(axes)[0]
    marks.sort()
    level, last, last_wide = 0, -1e9, 0.0
    for at, words in marks:
        wide = (2.2 if words.isdigit() else 0.65 * len(words)) * size * POINT
        close = (at - last) / max(span, 1e-9) * width < (wide + last_wide) / 2.0 + 0.8
        level = 1 - level if close else 0
        last_wide = wide
        last = at
        number = words.isdigit()
        axes.annotate(
            words,
            xy=(at, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 3 + level * size * 1.7),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=size,
            fontweight="bold" if number else "normal",
            bbox={"boxstyle": "circle,pad=0.2", "fc": "#FFFFFF", "ec": "#000000", "lw": 0.8}
            if number
            else None,
            annotation_clip=False,
        )


def _on_paper(axes: Axes) -> tuple[float, float]:
    """Width and height of the axes, mm."""
    box = axes.get_window_extent()
    dots = axes.get_figure(root=True).dpi / 25.4  # type: ignore[union-attr]
    return box.width / dots, box.height / dots
