"""``nesting panels``: every cut part of one model and size."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.completion import models, sizes
from nesting.cli.options import JsonOption, PaperOption, RangeArgument, UnitsOption

__all__ = ["panels"]


def panels(
    range_file: RangeArgument,
    model: Annotated[
        str, typer.Option("--model", "-m", help="Model, by key or name.", autocompletion=models)
    ],
    size: Annotated[
        str,
        typer.Option(
            "--size", "-s", help="Size, by key, name or width x length in mm.", autocompletion=sizes
        ),
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="DIR", help="Folder for the drawing.")
    ] = Path("outputs/panels"),
    pattern_dxf: Annotated[
        bool,
        typer.Option(
            "--pattern-dxf",
            help="Write the pieces as DXF in the layer convention of the sewn-product trade, too.",
        ),
    ] = False,
    paper: PaperOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """List every cut part of a model and size, and draw them all on one sheet (SVG).

    Example: nesting panels patterns/demo-range.toml --model aster --size "1500x2000"
    """
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.drawing import draw_panels
    from nesting.measures import measure, shown_for, with_unit
    from nesting.reports.panels import panel_rows, panel_table

    range_ = load_range(range_file).shown_in(units, paper)
    found = range_.find_model(model)
    bed = range_.find_size(size, among=found.sizes)
    parts = range_.panels(found.key, bed.key)
    with shown_for(range_.workshop):
        title = f"{found.name}, {bed.name} ({measure(bed.width)} x {with_unit(bed.length)})"
        table = panel_table(parts, range_.materials)
        name = f"{found.key}-{bed.key}"
        paths = draw_panels(title, parts, range_.materials, output, name, range_.workshop.paper)
    if pattern_dxf:
        from nesting.drawing.pattern_dxf import write_pattern_dxf

        # The format has no field for units, so the file's name tells them.
        paths.append(paths[0].with_name(f"{paths[0].stem}-pattern-mm.dxf"))
        write_pattern_dxf(found.name, bed.name, parts, range_.materials, paths[-1])
    if json:
        print_json({"model": found.key, "size": bed.key, "panels": panel_rows(parts), "drawings": paths})
        return
    print_table(title, *table)
    for path in paths:
        typer.echo(f"Drawn: {path}")
