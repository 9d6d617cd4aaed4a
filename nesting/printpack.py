"""The print pack of a plan: markers at true scale, maps, cut lists, labels and files for the table."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.catalogue.lookup import named
from nesting.errors import NestingError
from nesting.measures import shown_for
from nesting.model import MaterialPlan, Plan
from nesting.output import whole_folder

if TYPE_CHECKING:
    from nesting.drawing.cutting_order import LayoutOrder
    from nesting.drawing.label_sheets import LabelSheet
    from nesting.drawing.labels import PieceLabel, RestLabel
    from nesting.drawing.scene import Scene
    from nesting.drawing.true_scale import Target

__all__ = ["MARK", "WHAT", "Wishes", "chosen_parts", "write_print_pack"]

MARK = "print-pack.json"
"""The file by which the folder of a print pack is known; it lists what is in it."""

WHAT = "a print pack"
FORMAT = "nesting-print-1"
MOST_PAGES = 3000
"""Most pages at true scale in one go: more is a slip, such as a whole plan on A4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What goes into a pack.

    Parameters
    ----------
    target
        What markers at true scale are printed on; None for none.
    labels
        The sheet of labels; None for no labels.
    first_label
        The first free label on the first sheet, from 1.
    frames
        Draw the outlines of labels, to try a print against a sheet.
    """

    target: Target | None = None
    labels: LabelSheet | None = None
    first_label: int = 1
    frames: bool = False


def chosen_parts(
    plan: Plan, materials: Sequence[str] | None, layout: int | None
) -> tuple[tuple[MaterialPlan, ...], frozenset[int] | None]:
    """The materials of a plan by key or name, and the numbers of the layouts; None for all of them.

    Raises
    ------
    NestingError
        When the plan has no such material or layout, or a layout is given without its material.
    """
    parts = {part.material.key: part for part in plan.materials}
    keys: dict[str, None] = {}
    for text in materials or parts:
        found = named(text, {key: part.material for key, part in parts.items()})
        if len(found) != 1:
            allowed = ", ".join(parts)
            raise NestingError(f"material = {text!r}: allowed: {allowed}. Give one that is in this plan.")
        keys[found[0]] = None
    chosen = tuple(parts[key] for key in keys)
    if layout is None:
        return chosen, None
    if len(chosen) != 1:
        raise NestingError(f"layout = {layout}: allowed: with one material. Add --material with its key.")
    count = len(chosen[0].layouts)
    if not 1 <= layout <= count:
        key = chosen[0].material.key
        raise NestingError(
            f"layout = {layout}: allowed: 1 to {count} for {key!r}. Take its number from the maps."
        )
    return chosen, frozenset({layout})


def write_print_pack(
    plan: Plan,
    parts: Sequence[MaterialPlan],
    folder: Path,
    wishes: Wishes,
    only: Collection[int] | None = None,
) -> dict[str, Any]:
    """Write the pack, a folder for each material; an earlier pack in `folder` is replaced.

    Parameters
    ----------
    parts
        Which of its materials.
    only
        Numbers of the layouts, from 1; None for all.

    Returns
    -------
    dict
        What is in the pack, as in its ``print-pack.json``: for each material its key, pieces and rests with
        labels, notes, and the files with what they hold and their pages.

    Raises
    ------
    NestingError
        When the folder cannot be written, or a wish is out of bounds; nothing is written then.
    """
    from nesting.files import safe_names

    _check_pages(parts, wishes, only)
    names = safe_names([part.material.key for part in plan.materials])
    told = []
    with whole_folder(folder, MARK, WHAT) as inside, shown_for(plan.workshop):
        for part in parts:
            name = names[part.material.key]
            (inside / name).mkdir()
            told.append(_Writer(plan, part, inside / name, wishes, only).write())
        pack = {"format": FORMAT, "plan": plan.number, "made": plan.made, "materials": told}
        (inside / MARK).write_text(json.dumps(pack, indent=1, ensure_ascii=False), encoding="utf-8")
    return pack


def _check_pages(parts: Sequence[MaterialPlan], wishes: Wishes, only: Collection[int] | None) -> None:
    from nesting.drawing.true_scale import can_be_drawn_full_size, true_scale_tiling

    if wishes.target is None:
        return
    pages = sum(
        len(true_scale_tiling(part, number - 1, wishes.target).tiles)
        for part in parts
        if can_be_drawn_full_size(part)
        for number in _numbers(part, only)
    )
    if pages > MOST_PAGES:
        raise NestingError(
            f"{pages} pages at true scale: allowed: {MOST_PAGES} in one go. Choose a material and a layout "
            "with --material and --layout, larger paper with --tiles, or a plotter with --plotter-width."
        )


def _numbers(part: MaterialPlan, only: Collection[int] | None) -> list[int]:
    return [number for number in range(1, len(part.layouts) + 1) if only is None or number in only]


class _Writer:
    """Writes the folder of one material."""

    def __init__(
        self, plan: Plan, part: MaterialPlan, folder: Path, wishes: Wishes, only: Collection[int] | None
    ) -> None:
        from nesting.drawing.cutting_order import cutting_orders

        self._plan, self._part, self._folder, self._wishes, self._only = plan, part, folder, wishes, only
        self._cutting: tuple[LayoutOrder, ...] = cutting_orders(part)
        self._title = f"{part.material.name}, plan {plan.number or plan.made}"
        self._files: list[dict[str, Any]] = []
        self._notes: list[str] = []

    def write(self) -> dict[str, Any]:
        """Everything; what it says of itself."""
        self._maps()
        self._lists()
        self._true_scale()
        self._for_the_table()
        pieces, rests = self._labels()
        return {
            "material": self._part.material.key,
            "piece labels": pieces,
            "rest labels": rests,
            "notes": self._notes,
            "files": self._files,
        }

    def _pdf(self, name: str, what: str, pages: Sequence[Scene], layout: int | None = None) -> None:
        from nesting.drawing.pdf import write_pdf

        if pages:
            write_pdf(pages, self._folder / name, f"{what}: {self._title}")
            self._listed(name, what, layout, len(pages))

    def _listed(self, name: str, what: str, layout: int | None = None, pages: int | None = None) -> None:
        entry = {"file": f"{self._folder.name}/{name}", "what": what, "layout": layout, "pages": pages}
        self._files.append({key: value for key, value in entry.items() if value is not None})

    def _maps(self) -> None:
        from nesting.drawing.maps import map_pages

        what = "mini-markers" if self._part.material.kind == "roll" else "maps"
        self._pdf("maps.pdf", what, map_pages(self._plan, self._part, only=self._only, mini=self._cutting))

    def _lists(self) -> None:
        from nesting.drawing.cutlist import write_cut_list
        from nesting.drawing.cutlist_sheet import cut_list_pages
        from nesting.drawing.saw_plan_list import write_saw_plan

        layouts = self._part.layouts
        if self._part.material.kind == "block" and all(layout.cuts for layout in layouts):
            write_saw_plan(self._part, self._folder / "saw-plan.csv")
            self._listed("saw-plan.csv", "cuts in the order of work, with orders")
            return
        pages = cut_list_pages(self._plan, self._part, self._cutting, only=self._only)
        self._pdf("cut-list.pdf", "cut list in cutting order", pages)
        write_cut_list(self._part, self._folder / "cut-list.csv", self._cutting)
        self._listed("cut-list.csv", "cut list of all layouts")

    def _true_scale(self) -> None:
        from nesting.drawing.true_scale import can_be_drawn_full_size, true_scale_pages

        target = self._wishes.target
        if target is None:
            return
        if not can_be_drawn_full_size(self._part):
            why = (
                "foam blocks follow their saw plan"
                if self._part.material.kind == "block"
                else "only cut to length"
            )
            self._notes.append(f"nothing at true scale: {why}")
            return
        ending = f"-{target.sheet}" if target.sheet else ""
        word = "marker" if self._part.material.kind == "roll" else "sheet"
        for number in _numbers(self._part, self._only):
            order = self._cutting[number - 1]
            pages = true_scale_pages(self._plan, self._part, number - 1, target, order)
            self._pdf(f"{word}-{self._padded(number)}{ending}.pdf", f"{word} at true scale", pages, number)

    def _padded(self, number: int) -> str:
        return f"{number:0{max(2, len(str(len(self._part.layouts))))}}"

    def _for_the_table(self) -> None:
        from nesting.drawing.dxf import write_dxf
        from nesting.drawing.machine import machine_scene

        if self._part.material.kind == "block":
            return
        stamp = f"{self._plan.range_name}, plan {self._plan.number}, made {self._plan.made}"
        for number in _numbers(self._part, self._only):
            name = f"layout-{self._padded(number)}.dxf"
            order = self._cutting[number - 1]
            write_dxf(machine_scene(self._part, number - 1, stamp, order), self._folder / name)
            self._listed(name, "layout for a cutting table, outlines in cutting order", number)

    def _labels(self) -> tuple[int, int]:
        from nesting.drawing.label_sheets import label_pages
        from nesting.drawing.labels import draw_label_in, piece_labels, rest_labels

        sheet = self._wishes.labels
        if sheet is None:
            return 0, 0
        pieces: list[PieceLabel | RestLabel] = [
            *piece_labels(self._plan, self._part, self._cutting, self._only)
        ]
        rests: list[PieceLabel | RestLabel] = [*rest_labels(self._plan, self._part)]
        first, frames = self._wishes.first_label, self._wishes.frames
        for name, what, labels in (
            ("labels.pdf", "piece labels in cutting order", pieces),
            ("rest-labels.pdf", "labels of the rests that go back to stock", rests),
        ):
            pages = label_pages(labels, draw_label_in, sheet, self._title, first=first, frames=frames)
            self._pdf(name, what, pages if labels else ())
        return len(pieces), len(rests)
