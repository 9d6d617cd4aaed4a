"""Where the material of a plan goes, as a picture: from what is taken down to the pieces."""

from __future__ import annotations

from dataclasses import replace

from nesting.drawing.lettering import shortened
from nesting.drawing.scene import STYLES, Hatch, Item, Layer, Scene, Style, Text, rectangle
from nesting.measures import percent, shown_amount
from nesting.model import Figures

__all__ = ["Step", "steps", "waterfall"]

WIDTH = 260.0
ROW = 9.0
LABEL = 62.0
FIGURES = 56.0
SIZE = 2.6
MARGIN = 4.0

Step = tuple[str, float, float, Style]
"""What it is, its amount, how much lies before it (m2 or m3), and how it is drawn."""

TAKEN = Style(width=0.3, fill="#D9D9D9")
LOST = replace(STYLES[Layer.TRIM], width=0.3, fill="#FBE3D6", hatch=Hatch.RISING, hatch_line="#D55E00")
KEPT = Style(width=0.3, fill="#FFFFFF", dashes=(2.0, 1.0))
CUT = Style(width=0.3, fill="#CFE3F1", hatch=Hatch.NONE)


def steps(figures: Figures) -> list[Step]:
    """From what is taken, less every loss (the largest first) and the rests kept, to the pieces."""
    made: list[Step] = [("taken from stock", figures.consumed, 0.0, TAKEN)]
    left = figures.consumed
    losses = [(loss.cause.replace("_", " "), loss.amount, LOST) for loss in figures.losses if loss.amount > 0]
    losses.sort(key=lambda loss: -loss[1])
    if figures.remnants > 0:
        losses.append(("rests kept", figures.remnants, KEPT))
    for cause, amount, style in losses:
        left -= amount
        made.append((cause, amount, left, style))
    made.append(("pieces", figures.pieces, 0.0, CUT))
    return made


def waterfall(title: str, figures: Figures) -> Scene:
    """The steps as bars below one another, with amounts and shares of what is taken."""
    rows = steps(figures)
    height = 2 * MARGIN + ROW * len(rows)
    room = WIDTH - LABEL - FIGURES - 2 * MARGIN
    scale = room / figures.consumed if figures.consumed > 0 else 0.0
    items: list[Item] = []
    for at, (name, amount, before, style) in enumerate(rows):
        low = height - MARGIN - ROW * (at + 1)
        left = MARGIN + LABEL
        words = shortened(name, LABEL - 4.0, SIZE, bold=at in (0, len(rows) - 1))
        base = low + 0.5 * (ROW - SIZE)
        items.append(Text(left - 3.0, base, words, SIZE, "end", bold=at in (0, len(rows) - 1)))
        items.append(
            rectangle(
                left + before * scale, low + 1.2, max(amount * scale, 0.3), ROW - 2.4, Layer.STOCK, style
            )
        )
        share = amount / figures.consumed if figures.consumed > 0 else 0.0
        items.append(Text(WIDTH - MARGIN - 20.0, base, shown_amount(amount, figures.unit, 2), SIZE, "end"))
        items.append(Text(WIDTH - MARGIN, base, percent(share), SIZE, "end"))
    return Scene(title=title, width=WIDTH, height=height, items=tuple(items))
