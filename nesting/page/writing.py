"""Putting the page together."""

from __future__ import annotations

import base64
import gzip
import json
from html import escape
from importlib.resources import files
from pathlib import Path
from string import Template

from nesting.drawing.maps import map_pages
from nesting.drawing.scene import Scene
from nesting.drawing.svg import svg_text
from nesting.files import whole_file
from nesting.measures import fixed, percent, shown_for
from nesting.model import Plan
from nesting.page.tables import Table, losses_table, materials_table, pieces_table, remnants_table
from nesting.page.waterfall import waterfall

__all__ = ["page_text", "write_page"]

PIXELS = 96.0 / 25.4
"""Pixels of a page to one mm (CSS Values and Units, section 6.2: 96 px are one inch)."""


def write_page(plan: Plan, path: Path, paper: str | None = None) -> None:
    """Write the page of a plan.

    Parameters
    ----------
    plan
        What is to be cut.
    path
        File to write; appears whole or not at all.
    paper
        Paper that the maps in it are laid out for; None for the workshop's own.

    Raises
    ------
    DrawingError
        When there is no such paper.
    FileError
        When the file cannot be written.
    """
    text = page_text(plan, paper)
    with whole_file(path) as part:
        part.write_text(text, encoding="utf-8")


def page_text(plan: Plan, paper: str | None = None) -> str:
    """The page of a plan: one HTML document that loads nothing else.

    The same plan gives the same bytes.
    """
    with shown_for(plan.workshop):
        tables = [materials_table(plan), losses_table(plan), pieces_table(plan), remnants_table(plan)]
        by_key = {table.key: table for table in tables}
        return Template(_asset("page.html")).substitute(
            title=escape(f"{plan.range_name}: {plan.first_due} to {plan.last_due}"),
            style=_asset("page.css"),
            script=_asset("page.js"),
            range=escape(plan.range_name),
            dates=escape(f"Beds due {plan.first_due} to {plan.last_due}"),
            made=escape(_made(plan)),
            tiles=_tiles(plan),
            warnings=_warnings(plan),
            materials=by_key["materials"].html(),
            chooser=_chooser(plan),
            pictures=_pictures(plan),
            losses=by_key["losses"].html(),
            pieces=by_key["pieces"].html(),
            remnants=by_key["remnants"].html() if by_key["remnants"].rows else "<p>None.</p>",
            maps=_maps(plan, paper),
            map_materials=_options([part.material.name for part in plan.materials]),
            saves="\n".join(_save(table, plan) for table in tables),
        )


def _asset(name: str) -> str:
    return (files("nesting.page") / name).read_text(encoding="utf-8")


def _made(plan: Plan) -> str:
    number = f"Plan {plan.number}, made" if plan.number else "Made"
    return (
        f"{number} {plan.made} from {plan.range_file} and {plan.orders_file}, version {plan.version}, "
        f"seed {plan.seed}. Every layout was checked independently: each piece is inside its material, "
        "overlaps no other, and is there as often as it is wanted."
    )


def _tiles(plan: Plan) -> str:
    cost = sum(part.figures.cost for part in plan.materials)
    pieces = sum(part.figures.piece_count for part in plan.materials)
    values = [part.figures.cost for part in plan.materials]
    gap = sum(part.figures.gap * value for part, value in zip(plan.materials, values, strict=True))
    proven = sum(part.figures.gap <= 0 for part in plan.materials)
    tiles = [
        (fixed(plan.beds, 0), "beds"),
        (fixed(pieces, 0), "pieces"),
        (f"{fixed(cost, 2)} {plan.currency}", "material"),
        (percent(gap / cost if cost else 0.0), "of the money not proven needed"),
        (f"{proven} of {len(plan.materials)}", "materials that no plan can cut with less"),
    ]
    return "".join(f"<li><b>{escape(figure)}</b>{escape(words)}</li>" for figure, words in tiles)


def _warnings(plan: Plan) -> str:
    lines = [
        f"{missing.quantity} x {key} from {part.material.name}: {missing.reason}."
        for part in plan.materials
        for key, missing in part.missing.items()
    ]
    notes = [f"{part.material.name}: {note}" for part in plan.materials for note in part.notes]
    notes += list(plan.notes)
    told = ""
    if lines:
        told += f'<section class="warn"><h2>Cannot be cut</h2>{_list(lines)}</section>'
    if notes:
        told += f"<h2>Notes</h2>{_list(notes)}"
    return told


def _list(lines: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _options(names: list[str]) -> str:
    return "".join(f"<option>{escape(name)}</option>" for name in names)


def _chooser(plan: Plan) -> str:
    return f'<select id="losses-of">{_options([part.material.name for part in plan.materials])}</select>'


def _pictures(plan: Plan) -> str:
    made = []
    for part in plan.materials:
        name = escape(part.material.name)
        picture = svg_text(waterfall(f"Where {part.material.name} goes", part.figures))
        caption = f"{name}: where the material taken from stock goes. Shares are of all that is taken."
        made.append(f'<figure data-material="{name}">{picture}<figcaption>{caption}</figcaption></figure>')
    return "\n".join(made)


def _maps(plan: Plan, paper: str | None) -> str:
    pages = [
        _packed(part.material.name, scene, f"{plan.range_name} – {part.material.name}: ")
        for part in plan.materials
        for scene in map_pages(plan, part, paper)
    ]
    # Inside a script element nothing must look like a tag.
    return json.dumps(pages, ensure_ascii=False).replace("<", "\\u003c")


def _packed(material: str, scene: Scene, known: str) -> dict[str, object]:
    """A map as the page keeps it: packed, for a week has hundreds of them; without what is `known` of it."""
    packed = gzip.compress(svg_text(scene).encode(), mtime=0)
    return {
        "material": material,
        "title": scene.title.removeprefix(known),
        "width": round(scene.width * PIXELS),
        "height": round(scene.height * PIXELS),
        "svg": base64.b64encode(packed).decode(),
    }


def _save(table: Table, plan: Plan) -> str:
    data = base64.b64encode(("\ufeff" + table.csv()).encode()).decode()
    name = f"{table.key}-{plan.number or plan.made}.csv"
    return (
        f'<a class="save" download="{escape(name)}" href="data:text/csv;charset=utf-8;base64,{data}">'
        f"Save {table.key} as CSV</a>"
    )
