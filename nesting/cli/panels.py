"""``nesting panels``: every cut part of one model and size."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nesting.cli.completion import models, sizes
from nesting.cli.options import JsonOption, PaperOption, RangeArgument, UnitsOption

if TYPE_CHECKING:
    from nesting.catalogue import Model, Range
    from nesting.model import Size

__all__ = ["panels"]


def panels(
    range_file: RangeArgument,
    model: Annotated[
        str | None, typer.Option("--model", "-m", help="Model, by key or name.", autocompletion=models)
    ] = None,
    size: Annotated[
        str | None,
        typer.Option(
            "--size", "-s", help="Size, by key, name or width x length in mm.", autocompletion=sizes
        ),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Every model (or the one given) in every size (or the one given).")
    ] = False,
    spec: Annotated[
        bool,
        typer.Option(
            "--spec", help="Write a specification sheet, too: lists, values, marks, drawings (PDF and SVG)."
        ),
    ] = False,
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="DIR", help="Folder for the drawings.")
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

    Example: nesting panels patterns/demo-range.toml --model aster --size "1500x2000" --spec
    """
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.measures import measure, shown_for, with_unit
    from nesting.reports.panels import panel_rows, panel_table

    if not everything and (model is None or size is None):
        raise typer.BadParameter(
            "Give --model and --size, or --all for every one.", param_hint="--model, --size"
        )
    range_ = load_range(range_file).shown_in(units, paper)
    told = []
    for found, bed in range_.offered(model, size):
        parts = range_.panels(found.key, bed.key)
        with shown_for(range_.workshop):
            title = f"{found.name}, {bed.name} ({measure(bed.width)} x {with_unit(bed.length)})"
            table = panel_table(parts, range_.materials)
        paths = _drawn(range_, found, bed, title, output, spec=spec, pattern_dxf=pattern_dxf)
        told.append({"model": found.key, "size": bed.key, "panels": panel_rows(parts), "drawings": paths})
        if json:
            continue
        if not everything:
            print_table(title, *table)
        for path in paths:
            typer.echo(f"Drawn: {path}")
    if json:
        print_json(told if everything else told[0])


def _drawn(
    range_: Range, model: Model, size: Size, title: str, output: Path, *, spec: bool, pattern_dxf: bool
) -> list[Path]:
    """Everything that is drawn of one model and size."""
    from nesting.drawing import draw_panels
    from nesting.measures import shown_for

    parts = range_.panels(model.key, size.key)
    with shown_for(range_.workshop):
        name = f"{model.key}-{size.key}"
        paths = draw_panels(title, parts, range_.materials, output, name, range_.workshop.paper)
    if spec:
        from nesting.specification import write_specification

        paths += write_specification(range_, model.key, size.key, output)
    if pattern_dxf:
        from nesting.drawing.pattern_dxf import write_pattern_dxf

        # The format has no field for units, so the file's name tells them.
        paths.append(paths[0].with_name(f"{paths[0].stem}-pattern-mm.dxf"))
        write_pattern_dxf(model.name, size.name, parts, range_.materials, paths[-1])
    return paths
