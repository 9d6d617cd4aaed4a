"""Which plies are cut from which roll, and which sheets from the shelf: an answer becomes a true plan.

The packing core knows kinds of rolls. Here every ply comes to lie on one real roll, with its place; what is
of no difference to the cutter, such as on which of two rolls of one width a marker is laid, makes no
layouts of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.blocks import issue_blocks
from nesting.model import Demand, Layout, Material, RollMaterial, SheetMaterial, StockPiece, StockUse
from nesting.packing import Bar, LinearProblem, Piece, solve, verify
from nesting.places import extents
from nesting.requests import NEW_ROLL, NEW_SHEET, rate_of, stretches
from nesting.shelf import alike, as_new, own_material

__all__ = ["EFFORT", "Issue", "issue"]

EFFORT = 20.0
"""Work spent on sharing plies out over rolls, in units of `solve`'s effort."""

SAME = 1e-6
"""mm; places closer than this are one."""


@dataclass(frozen=True, slots=True)
class Issue:
    """Layouts and the stock that they are cut from."""

    layouts: tuple[Layout, ...]
    uses: tuple[StockUse, ...]
    saved: float = 0.0
    """What the answer's value counts more than is cut: plies for new rolls went on rests, mm of new roll."""

    def shelf(self, stock: Sequence[StockPiece]) -> tuple[StockPiece, ...]:
        """The pieces of the shelf that are used."""
        used = {use.piece for use in self.uses}
        return tuple(piece for piece in stock if piece.id in used)


def issue(
    material: Material,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    stock: Sequence[StockPiece] = (),
    *,
    new: bool = True,
) -> Issue:
    """Share out what an answer cuts over the pieces of stock.

    Parameters
    ----------
    layouts
        As answered; with rolls from the shelf those that differ in nothing but their place become one.
    stock, new
        What the problem was made of, see `nesting.requests.problem_for`.

    Returns
    -------
    Issue
        All rolls that are cut, those from the shelf first; of sheets those from the shelf.
    """
    if isinstance(material, RollMaterial):
        if material.process == "lengths":
            return Issue(tuple(layouts), _issue_bars(material, demands, layouts, stock, new=new))
        return _issue_rolls(material, demands, layouts, stock, new=new)
    if isinstance(material, SheetMaterial):
        return Issue(tuple(layouts), _issue_sheets(material, layouts, stock))
    return Issue(tuple(layouts), issue_blocks(material, layouts, stock))


# --- Rolls --------------------------------------------------------------------------------------------


def _issue_rolls(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    stock: Sequence[StockPiece],
    *,
    new: bool,
) -> Issue:
    groups = alike(stock)
    free = [piece for piece in stock if new and as_new(piece, material)]
    rolls = {piece.id: _Roll(material, demands, piece) for piece in stock if piece not in free}
    for layout in sorted(layouts, key=lambda layout: layout.start):
        if layout.stock_key != NEW_ROLL:
            for piece in groups[layout.stock_key][layout.stock_number - 1 :][: layout.stock_count]:
                for _ in range(layout.repeats // layout.stock_count):
                    rolls[piece.id].lay(layout)
    fresh = [(layout, layout.repeats) for layout in layouts if layout.stock_key == NEW_ROLL]
    saved = 0.0
    if new:
        fresh, saved = _settled(material, fresh, list(rolls.values()))
    book = _Book()
    uses = [roll.use(book) for roll in rolls.values() if roll.plies]
    width = (material.usable_width, material.width)
    entered = [(book.enter(layout, (*width, ()), count), count) for layout, count in fresh]
    uses += _issue_new(material, book.layouts, entered, free)
    return Issue(tuple(book.layouts), tuple(uses), saved)


def _settled(
    material: RollMaterial, fresh: Sequence[tuple[Layout, int]], rolls: Sequence[_Roll]
) -> tuple[list[tuple[Layout, int]], float]:
    """Lay plies meant for new rolls on what is left of rolls from the shelf; what remains, and the saving.

    The search reckons with lengths alone, and does not see that a new roll is begun for a metre. The longest
    plies go first, each to the roll that is fullest with it.
    """
    left = []
    saved = 0.0
    for layout, plies in sorted(fresh, key=lambda pair: -pair[0].length):
        count = plies
        while count:
            able = [roll for roll in rolls if roll.takes(layout)]
            if not able:
                break
            best = min(able, key=lambda roll: roll.piece.length - roll.end)
            best.lay(layout)
            count -= 1
            saved += (layout.length + 2 * material.end_loss) * (1.0 - rate_of(best.piece, material))
        if count:
            left.append((layout, count))
    order = {id(layout): at for at, (layout, _) in enumerate(fresh)}
    return sorted(left, key=lambda pair: order[id(pair[0])]), saved


class _Roll:
    """A roll from the shelf with the plies that are laid on it, each as far forward as flaws allow."""

    def __init__(self, material: RollMaterial, demands: Sequence[Demand], piece: StockPiece) -> None:
        own = own_material(material, piece)
        assert isinstance(own, RollMaterial)
        self.material, self.demands, self.piece, self.own = material, demands, piece, own
        self.plies: list[tuple[Layout, float]] = []
        self.end = 0.0

    def _length(self, layout: Layout) -> float:
        """Length that a ply takes, mm, its ends included."""
        return layout.length + 2 * self.material.end_loss

    def _start(self, layout: Layout) -> float:
        """Where the next ply may begin, mm; between two markers lies an end of each, or at least a gap."""
        least = self.end
        if self.plies:
            least += max(0.0, self.material.gap - 2 * self.material.end_loss)
        if not self.piece.flaws:
            return least
        return _first_sound(self.piece, extents(self.demands, layout), self.material.end_loss, least)

    def takes(self, layout: Layout) -> bool:
        """Whether a ply meant for a new roll fits, and is no dearer here.

        Cuts from edge to edge need cloth of the same width.
        """
        if rate_of(self.piece, self.material) > 1.0:
            return False
        if layout.cuts is not None and self.piece.width != self.material.usable_width:
            return False
        if max(box[3] for box in extents(self.demands, layout)) > self.piece.width + SAME:
            return False
        return self._start(layout) + self._length(layout) <= self.piece.length + SAME

    def lay(self, layout: Layout) -> None:
        """Lay one more ply."""
        start = self._start(layout)
        self.plies.append((layout, start))
        self.end = start + self._length(layout)

    def use(self, book: _Book) -> StockUse:
        """The roll with its layouts written into `book`; plies alike that follow each other together."""
        found: list[tuple[int, float]] = []
        for layout, start in self.plies:
            below = tuple(
                (flaw.x0 - start, flaw.x1 - start, flaw.y0, flaw.y1)
                for flaw in self.piece.flaws
                if flaw.x0 < start + self._length(layout) and flaw.x1 > start
            )
            found.append((book.enter(layout, (self.own.usable_width, self.own.width, below), 1), start))
        apart = max(0.0, self.material.gap - 2 * self.material.end_loss)
        if not self.piece.flaws:
            # Where it makes no difference to the cloth, plies of one layout lie behind each other.
            order = sorted(at for at, _ in found)
            found, end = [], 0.0
            for at in order:
                found.append((at, end))
                end += self._length(book.layouts[at]) + apart
        cuts: list[tuple[int, int]] = []
        starts: list[float] = []
        end = -1.0
        for at, start in found:
            if cuts and cuts[-1][0] == at and abs(start - end) < SAME:
                cuts[-1] = (at, cuts[-1][1] + 1)
            else:
                cuts.append((at, 1))
                starts.append(start)
            end = start + self._length(book.layouts[at]) + apart
        used = end - apart
        # Float noise of a full roll is no overdraft.
        rest = max(0.0, self.piece.length - used) if used - self.piece.length < SAME else -1.0
        return StockUse(
            name=self.piece.id,
            cuts=tuple(cuts),
            used=used,
            rest=rest,
            piece=self.piece.id,
            starts=tuple(starts),
        )


class _Book:
    """Layouts by what makes them differ on a map: pieces, width of the cloth, flaws below them."""

    def __init__(self) -> None:
        self.layouts: list[Layout] = []
        self._known: dict[object, int] = {}

    def enter(self, layout: Layout, cloth: object, plies: int) -> int:
        """Index of a layout, to which so many plies are added."""
        key = (frozenset(layout.placements), layout.length, cloth)
        at = self._known.get(key)
        if at is None:
            at = self._known[key] = len(self.layouts)
            self.layouts.append(replace(layout, repeats=plies, start=0.0, stock_number=1, stock_count=1))
        else:
            self.layouts[at] = replace(self.layouts[at], repeats=self.layouts[at].repeats + plies)
        return at


def _first_sound(
    roll: StockPiece, boxes: Sequence[tuple[float, float, float, float]], end_loss: float, least: float
) -> float:
    """The first place from `least` on where a ply may begin without a piece on a flaw, mm.

    Parameters
    ----------
    boxes
        Least x and y, greatest x and y of the pieces, from the start of the marker.
    """
    taken = []
    for flaw in roll.flaws:
        top = roll.width if flaw.y1 is None else flaw.y1
        taken += [
            (flaw.x0 - end_loss - x1, flaw.x1 - end_loss - x0)
            for x0, y0, x1, y1 in boxes
            if y0 < top - SAME and y1 > flaw.y0 + SAME
        ]
    place = least
    for low, high in sorted(taken):
        if low < place - SAME and place < high - SAME:
            place = high
    return place


def _issue_new(
    material: RollMaterial,
    layouts: Sequence[Layout],
    fresh: Sequence[tuple[int, int]],
    free: Sequence[StockPiece],
) -> list[StockUse]:
    """Share plies out over as few new rolls as possible; those like new on the shelf are taken first.

    A one-dimensional cutting stock problem: a ply needs its marker length and both end losses, or at least
    a gap to the next one. The fullest rolls come first, so that the largest rest is on the last one.
    """
    if not fresh:
        return []
    plies: dict[int, int] = {}
    for index, count in fresh:
        plies[index] = plies.get(index, 0) + count
    pieces = tuple(
        Piece.linear(str(index), layouts[index].length + 2 * material.end_loss, count)
        for index, count in plies.items()
    )
    apart = max(0.0, material.gap - 2 * material.end_loss)
    problem = LinearProblem((Bar("roll", material.roll_length),), pieces, kerf=apart)
    answer = solve(problem, time_limit=None, effort=EFFORT)
    verify(problem, answer)
    length_of = {piece.key: piece.length for piece in pieces}
    rolls = []
    for bar in answer.layouts:
        counts: dict[int, int] = {}
        for placement in bar.placements:
            counts[int(placement.key)] = counts.get(int(placement.key), 0) + 1
        used = sum(length_of[placement.key] for placement in bar.placements)
        used += apart * (len(bar.placements) - 1)
        rolls.extend([(tuple(sorted(counts.items())), used)] * bar.repeats)
    rolls.sort(key=lambda roll: (-roll[1], roll[0]))
    uses = []
    for number, (cuts, used) in enumerate(rolls):
        piece = free[number] if number < len(free) else None
        starts, end = [], 0.0
        for index, count in cuts:
            starts.append(end)
            end += count * (length_of[str(index)] + apart)
        uses.append(
            StockUse(
                name=f"roll {number + 1 - len(free)}" if piece is None else piece.id,
                cuts=cuts,
                used=used,
                rest=material.roll_length - used,
                piece="" if piece is None else piece.id,
                starts=tuple(starts),
            )
        )
    return uses


# --- Bars and sheets ----------------------------------------------------------------------------------


def _issue_bars(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    stock: Sequence[StockPiece],
    *,
    new: bool,
) -> tuple[StockUse, ...]:
    """Rolls that are only cut to length: each repeat of a layout is one roll, or a stretch between flaws."""
    free = [piece for piece in stock if new and as_new(piece, material)]
    parts = {part.key: part for part in stretches(material, stock, new=new)}
    given: dict[str, int] = {}
    on_shelf: dict[str, list[tuple[float, int, float]]] = {}
    uses: list[StockUse] = []
    number = 0
    for index, layout in enumerate(layouts):
        used = max(box[2] for box in extents(demands, layout)) + 2 * material.end_loss
        for _ in range(layout.repeats):
            if layout.stock_key == NEW_ROLL:
                piece = free.pop(0).id if free else ""
                number += not piece
                rest = material.roll_length - used
                name = piece or f"roll {number}"
                uses.append(StockUse(name=name, cuts=((index, 1),), used=used, rest=rest, piece=piece))
                continue
            part = parts[layout.stock_key]
            roll = part.pieces[given.get(part.key, 0)]
            given[part.key] = given.get(part.key, 0) + 1
            on_shelf.setdefault(roll.id, []).append((part.start, index, part.start + used))
    piece_of = {piece.id: piece for piece in stock}
    for key, cut in on_shelf.items():
        cut.sort()
        end = cut[-1][2]
        uses.append(
            StockUse(
                name=key,
                cuts=tuple((index, 1) for _, index, _ in cut),
                used=end,
                rest=piece_of[key].length - end,
                piece=key,
                starts=tuple(start for start, _, _ in cut),
            )
        )
    return tuple(uses)


def _issue_sheets(
    material: SheetMaterial, layouts: Sequence[Layout], stock: Sequence[StockPiece]
) -> tuple[StockUse, ...]:
    """The sheets from the shelf: those like new take the place of new ones, as far as there are any."""
    waiting: Mapping[str, list[StockPiece]] = {
        **{key: list(pieces) for key, pieces in alike(stock).items() if not as_new(pieces[0], material)},
        NEW_SHEET: [piece for piece in stock if as_new(piece, material)],
    }
    uses = []
    for index, layout in enumerate(layouts):
        queue = waiting[layout.stock_key]
        for piece in queue[: layout.repeats]:
            uses.append(
                StockUse(name=piece.id, cuts=((index, 1),), used=piece.length, rest=0.0, piece=piece.id)
            )
        del queue[: layout.repeats]
    return tuple(uses)
