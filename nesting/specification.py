"""Specification sheets: what a range says of a model and size, put together and written."""

from __future__ import annotations

import datetime
from pathlib import Path

from nesting import __version__
from nesting.catalogue import Range
from nesting.drawing.spec_sheet import Specification, spec_sheet
from nesting.files import safe_names
from nesting.measures import measure, percent, plain, shown_for

__all__ = ["specification", "write_specification"]


def specification(
    range_: Range, model_key: str, size_key: str, today: datetime.date | None = None
) -> Specification:
    """All that the range says of one model in one size; called inside `nesting.measures.shown_for`.

    Raises
    ------
    InputError
        When the model is not made in this size, or a panel cannot be made.
    """
    panels = range_.panels(model_key, size_key)
    model, size = range_.models[model_key], range_.sizes[size_key]
    values = []
    for used in range_.values_used(model_key, size_key):
        words = str(used.value)
        if not isinstance(used.value, str):
            shown = {"length": measure, "share": percent, "count": plain}[used.kind]
            words = shown(used.value)
        values.append((used.name.replace("_", " "), words, ", ".join(used.codes)))
    made = (today or datetime.date.today()).isoformat()
    return Specification(
        range_name=range_.name,
        model=model.name,
        size=size.name,
        note=model.note,
        width=size.width,
        length=size.length,
        height=model.height,
        panels=panels,
        materials=range_.materials,
        values=tuple(values),
        stamp=f"{range_.name}, {Path(range_.file).name}, made {made}, version {__version__}",
    )


def write_specification(range_: Range, model_key: str, size_key: str, folder: Path) -> list[Path]:
    """Write the sheet of one model and size as PDF, and each page as SVG, on the workshop's paper.

    Raises
    ------
    FileError
        When a file cannot be written.
    """
    from nesting.drawing.pdf import write_pdf
    from nesting.drawing.svg import write_svg

    name = f"{model_key}-{size_key}-spec"
    base = safe_names([name])[name]
    with shown_for(range_.workshop):
        spec = specification(range_, model_key, size_key)
        scenes = spec_sheet(spec, range_.workshop.paper)
        written = [folder / f"{base}.pdf"]
        write_pdf(scenes, written[0], f"{spec.title}: specification")
        for number, scene in enumerate(scenes, start=1):
            written.append(folder / f"{base}-{number}.svg")
            write_svg(scene, written[-1])
    return written
