"""What is written on a piece, and where: as much as fits, never over an edge or a mark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from nesting.drawing.lettering import fitting_size, text_width
from nesting.drawing.pieces import PlacedPiece, lying_size, size_text, stand_words
from nesting.drawing.scene import Layer, Style, crossings, extent
from nesting.drawing.sketch import Box, Sketch
from nesting.measures import measure, plain
from nesting.model import Point

__all__ = ["Words", "clear_rooms", "draw_label", "inner_box", "label_choices"]

LEADING = 1.55
"""Distance of base lines in a label over the height of its capitals."""

NUMBER_SIZE = 1.35
"""Position numbers are so much larger than the rest of a label."""

EDGE, EDGE_OF_ONE_LINE = 0.45, 0.25
"""Least room between words and the edge of their piece, over the height of the capitals."""

LEAST_EDGE = 0.3
"""The same in mm where the letters are small."""

PLATE = 0.6
"""Share of that room which the plate behind the words covers: it must not touch the edge of the piece."""

SIDEWAYS_GAIN = 1.25
"""Words are turned upright only where that makes them so much larger: sideways reading is slower."""

ROUNDING = 1e-9
SLICES = 16
"""Into how many slices a curved piece is cut in search of room for its label."""

MOST_ROOMS = 8
"""So many places between the marks of a piece are tried for its label."""


@dataclass(frozen=True, slots=True)
class Words:
    """One line of a label: its size over that of the label, and whether it is bold."""

    words: str
    size: float = 1.0
    bold: bool = False


def label_choices(piece: PlacedPiece) -> tuple[tuple[Words, ...], ...]:
    """What may be written on a piece, fullest first; each choice is the lines of a label.

    Every choice begins with the position number, so that even the smallest piece is found in the list. The
    place in the cutting order, where it is known, goes before names and measures.
    """
    panel, size = piece.demand.panel, piece.demand.size
    number = Words(str(piece.number), NUMBER_SIZE, True)
    name = f"{panel.code} {size}"
    sides = size_text(piece.demand)
    turn = piece.placement.turn % 360.0
    turned = [f"turned {plain(turn)}°"] if turn else []
    if piece.placement.mirrored:
        turned.append("flipped")
    if standing := stand_words(piece.placement):
        # As it lies, so that the words agree with the picture; the list has its own size.
        sides = " x ".join(measure(side) for side in lying_size(piece.demand, piece.placement))
        turned = [standing]
    full = (number, Words(name), Words(sides))
    choices: list[tuple[Words, ...]] = [(*full, Words(", ".join(turned)))] if turned else []
    choices += [
        full,
        (Words(f"{number.words}  {name}", bold=True), Words(sides)),
        (Words(f"{number.words}  {name}  {sides}"),),
        (number, Words(panel.code), Words(sides)),
        (number, Words(sides)),
        (Words(f"{number.words}  {sides}"),),
        (number, Words(panel.code)),
        (Words(f"{number.words}  {panel.code}", bold=True),),
        (number,),
        (Words(number.words, bold=True),),
    ]
    if not piece.cut:
        return tuple(choices)
    cut = f"cut {piece.cut}"
    told = [
        (*lines, Words(cut)) if len(lines) > 1 else (Words(f"{lines[0].words}  {cut}", bold=lines[0].bold),)
        for lines in choices
    ]
    return (*told, *choices)


def _tall(lines: Sequence[Words]) -> float:
    """Height of a label over the height of its capitals."""
    return sum(line.size for line in lines) * LEADING - (LEADING - 1.0) * lines[-1].size


def _edge(lines: Sequence[Words]) -> float:
    return EDGE if len(lines) > 1 else EDGE_OF_ONE_LINE


def _size_in(lines: Sequence[Words], width: float, height: float, most: float, least: float) -> float | None:
    """Size at which a label fits into a room of `width` by `height` mm, or None."""
    edge = _edge(lines)
    size = min(most, height / (_tall(lines) + 2.0 * edge), (height - 2.0 * LEAST_EDGE) / _tall(lines))
    for line in lines:
        # Twice, because the edge left free depends on the size that is being looked for.
        for _ in range(2):
            room = width - 2.0 * max(EDGE * size, LEAST_EDGE)
            size = fitting_size(line.words, room / line.size, size, 0.0, line.bold) or 0.0
    return size if size >= least - ROUNDING else None


def draw_label(
    sketch: Sketch,
    choices: Sequence[Sequence[Words]],
    rooms: Sequence[Box],
    most: float,
    least: float,
    plate: Style | None = None,
) -> bool:
    """Write the fullest choice that fits one of the rooms, level or turned upright; False if none does.

    Parameters
    ----------
    rooms
        Where the words may stand, mm, the best first; of those they fit, the one with the largest
        letters is taken.
    most, least
        Greatest and smallest height of the capitals, mm.
    plate
        Style of a plate behind the words that hides the hatch, or None for no plate.
    """
    for lines in choices:
        best: tuple[float, float, bool, Box] | None = None  # merit, size, turned, room
        for room in rooms:
            level = _size_in(lines, room.width, room.height, most, least)
            if level is not None and (best is None or level * SIDEWAYS_GAIN > best[0] + ROUNDING):
                best = (level * SIDEWAYS_GAIN, level, False, room)
            upright = _size_in(lines, room.height, room.width, most, least)
            if upright is not None and (best is None or upright > best[0] + ROUNDING):
                best = (upright, upright, True, room)
        if best is not None:
            _, size, turned, room = best
            _write(sketch, lines, room, size, turned, plate)
            return True
    return False


def _write(
    sketch: Sketch, lines: Sequence[Words], room: Box, size: float, turned: bool, plate: Style | None
) -> None:
    x, y = (room.left + room.right) / 2.0, (room.low + room.high) / 2.0
    tall = _tall(lines) * size
    if plate is not None:
        edge = PLATE * max(_edge(lines) * size, LEAST_EDGE)
        wide = max(text_width(line.words, line.size * size, line.bold) for line in lines)
        half = (wide / 2.0 + edge, tall / 2.0 + edge)
        across, up = (half[1], half[0]) if turned else half
        sketch.rect(Box(x - across, y - up, x + across, y + up), Layer.PIECES, plate)
    down = tall / 2.0
    for line in lines:
        height = line.size * size
        offset = down - height / 2.0  # of the middle of this line above the middle of the label
        place = (x - offset, y) if turned else (x, y + offset)
        sketch.centred(*place, line.words, height, bold=line.bold, turn=90.0 if turned else 0.0)
        down -= LEADING * height


def clear_rooms(room: Box, marks: Iterable[Sequence[Point]], size: float) -> tuple[Box, ...]:
    """The largest parts of a room that keep `size` mm away from all marks, the largest first.

    When marks leave nothing, the room itself: a label over a mark is better than none.
    """
    near = []
    for points in marks:
        left, low, right, high = extent(points)
        box = (
            left - size - room.left,
            low - size - room.low,
            right + size - room.left,
            high + size - room.low,
        )
        near.append(tuple(round(side, 2) for side in box))
    found = _free_parts(round(room.width, 2), round(room.height, 2), tuple(near))
    return tuple(Box(room.left + a, room.low + b, room.left + c, room.low + d) for a, b, c, d in found) or (
        room,
    )


@lru_cache(maxsize=5_000)  # the same piece comes back many times in a marker
def _free_parts(width: float, height: float, taken: tuple[tuple[float, ...], ...]) -> tuple[Box, ...]:
    """The largest rectangles in (0, 0, width, height) that overlap none of the `taken` boxes."""
    stops = sorted({0.0, width, *(x for box in taken for x in (box[0], box[2]) if 0.0 < x < width)})
    parts = []
    for place, left in enumerate(stops):
        for right in stops[place + 1 :]:
            low = 0.0
            across = sorted((box[1], box[3]) for box in taken if box[0] < right and box[2] > left)
            for bottom, top in [*across, (height, height)]:
                if bottom > low:
                    parts.append(Box(left, low, right, min(bottom, height)))
                low = max(low, top)
    parts.sort(key=lambda part: (-part.width * part.height, part))
    largest: list[Box] = []
    for part in parts:
        if not any(a <= part[0] and b <= part[1] and c >= part[2] and d >= part[3] for a, b, c, d in largest):
            largest.append(part)
            if len(largest) == MOST_ROOMS:
                break
    return tuple(largest)


def inner_box(points: Sequence[Point]) -> Box:
    """A large upright rectangle inside an outline; the outline itself when it is such a rectangle.

    Looked for among rectangles made of whole slices, so it is large but not always the largest.
    """
    left, low, right, high = extent(points)
    if len(points) == 4 and {x for x, _ in points} == {left, right} and {y for _, y in points} == {low, high}:
        return Box(left, low, right, high)
    step = (high - low) / SLICES
    slices = []
    for i in range(SLICES + 1):
        # The end slices are read a little inside, where the outline has a width.
        level = low + step * min(max(i, 0.02), SLICES - 0.02)
        stops = crossings(points, level)
        slices.append(list(zip(stops[::2], stops[1::2], strict=False)))
    middle_x, middle_y = (left + right) / 2.0, (low + high) / 2.0
    best, best_area = Box(middle_x, middle_y, middle_x, middle_y), 0.0
    for first in range(SLICES):
        for start, end in slices[first]:
            a, b = start, end
            for last in range(first + 1, SLICES + 1):
                shared = [(max(a, s), min(b, e)) for s, e in slices[last]]
                a, b = max(shared, key=lambda pair: pair[1] - pair[0], default=(0.0, 0.0))
                if b <= a:
                    break
                area = (b - a) * step * (last - first)
                if area > best_area:
                    best_area = area
                    best = Box(a, low + step * first, b, low + step * last)
    return best
