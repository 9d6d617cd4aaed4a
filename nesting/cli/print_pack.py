"""``nesting print``: what the cutting room takes to the table (no module may be called print here)."""

from __future__ import annotations

from enum import StrEnum
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import JsonOption, OutputOption, PaperOption, UnitsOption

__all__ = ["print_pack"]


class Sheet(StrEnum):
    """Paper that markers are tiled on."""

    A4 = "A4"
    A3 = "A3"
    A2 = "A2"
    A1 = "A1"
    LETTER = "Letter"
    TABLOID = "Tabloid"


class LabelPaper(StrEnum):
    """What labels stick on."""

    A4 = "A4"
    A3 = "A3"
    LETTER = "Letter"
    ROLL = "roll"


FULL_SIZE, LABELS = "Markers at true scale", "Labels"
PLOTTER_WIDTH, PLOTTER_OVERLAP, SHEET_OVERLAP = 1600.0, 20.0, 10.0


def print_pack(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json that 'nesting plan' wrote.")],
    output: OutputOption,
    material: Annotated[
        list[str] | None,
        typer.Option("--material", "-m", help="Only this material, by key or name; may be repeated."),
    ] = None,
    layout: Annotated[
        int | None, typer.Option("--layout", "-l", help="Only this layout, by its number on the maps.")
    ] = None,
    plotter_width: Annotated[
        float | None,
        typer.Option(
            metavar="MM",
            rich_help_panel=FULL_SIZE,
            help=f"Width of the plotter's paper; usually {PLOTTER_WIDTH:g}.",
        ),
    ] = None,
    tiles: Annotated[
        Sheet | None,
        typer.Option(
            rich_help_panel=FULL_SIZE,
            case_sensitive=False,
            help="Tile markers on this paper instead of plotting them.",
        ),
    ] = None,
    overlap: Annotated[
        float | None,
        typer.Option(
            metavar="MM",
            rich_help_panel=FULL_SIZE,
            help=f"Strip that neighbouring pages share; {SHEET_OVERLAP:g}, on a plotter {PLOTTER_OVERLAP:g}.",
        ),
    ] = None,
    full_size: Annotated[
        bool, typer.Option(rich_help_panel=FULL_SIZE, help="Whether to draw markers at true scale.")
    ] = True,
    labels: Annotated[
        str,
        typer.Option(
            metavar="WxH",
            rich_help_panel=LABELS,
            help="Size of a label in mm, such as 70x36; 'none' for no labels.",
        ),
    ] = "70x36",
    label_sheet: Annotated[
        LabelPaper,
        typer.Option(
            rich_help_panel=LABELS, case_sensitive=False, help="What labels are on; 'roll': one to a page."
        ),
    ] = LabelPaper.A4,
    label_margins: Annotated[
        str | None,
        typer.Option(
            metavar="LEFTxTOP", rich_help_panel=LABELS, help="Margins of the first label in mm; else centred."
        ),
    ] = None,
    label_gaps: Annotated[
        str | None,
        typer.Option(
            metavar="ACROSSxDOWN", rich_help_panel=LABELS, help="Gaps between labels in mm; else none."
        ),
    ] = None,
    first_label: Annotated[
        int,
        typer.Option(rich_help_panel=LABELS, help="First free label on the first sheet, from the top left."),
    ] = 1,
    label_frames: Annotated[
        bool, typer.Option("--label-frames", rich_help_panel=LABELS, help="Draw outlines, to try a sheet.")
    ] = False,
    paper: PaperOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Print a saved plan for the table: markers at true scale, mini-markers, cut lists, labels, DXF.

    Example: nesting print outputs/week/plan.json -m quilt-classic --layout 1 --tiles A1 -o outputs/pack
    """
    from dataclasses import replace

    from nesting.cli.console import print_json
    from nesting.drawing.label_sheets import label_sheet as sheet_of
    from nesting.drawing.label_sheets import read_size
    from nesting.drawing.true_scale import Target
    from nesting.output import check_folder
    from nesting.planfile import read_plan
    from nesting.printpack import MARK, WHAT, Wishes, chosen_parts, write_print_pack

    if plotter_width is not None and tiles is not None:
        raise typer.BadParameter("give --plotter-width or --tiles, not both.")
    check_folder(output, MARK, WHAT)
    made = read_plan(plan_file)
    made = replace(made, workshop=made.workshop.changed(units, paper))
    parts, only = chosen_parts(made, material, layout)
    target = None
    if full_size and tiles is not None:
        target = Target(sheet=tiles, overlap=SHEET_OVERLAP if overlap is None else overlap)
    elif full_size:
        width = PLOTTER_WIDTH if plotter_width is None else plotter_width
        target = Target(plotter_width=width, overlap=PLOTTER_OVERLAP if overlap is None else overlap)
    sheet = None
    if labels != "none":
        sheet = sheet_of(
            read_size(labels, "labels"),
            label_sheet,
            read_size(label_margins, "label margins") if label_margins else None,
            read_size(label_gaps, "label gaps") if label_gaps else None,
        )
    wishes = Wishes(target=target, labels=sheet, first_label=first_label, frames=label_frames)
    pack = write_print_pack(made, parts, output, wishes, only)
    if json:
        print_json(pack)
        return
    for part in pack["materials"]:
        typer.echo(
            f"{part['material']}: {part['piece labels']} piece labels, {part['rest labels']} rest labels"
        )
        for what, files in groupby(part["files"], key=itemgetter("what")):
            alike = list(files)
            names = str(output / alike[0]["file"])
            names += f" to {Path(alike[-1]['file']).name}" if len(alike) > 1 else ""
            pages = sum(file.get("pages", 0) for file in alike)
            typer.echo(
                f"  {names}: {what}" + (f", {pages} {'page' if pages == 1 else 'pages'}" * bool(pages))
            )
        for note in part["notes"]:
            typer.echo(f"  {note}")
    typer.echo("Print at 100 %, not fitted to the page, and measure the rule of 100 mm before use.")
