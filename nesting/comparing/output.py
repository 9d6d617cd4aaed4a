"""Lists, pictures and page of a comparison, written into one folder."""

from __future__ import annotations

import io
from pathlib import Path

from nesting.comparing.page import curve_figure, heat_map_figure, meeting_page, plain_style
from nesting.comparing.results import Comparison
from nesting.comparing.tables import breakpoints_csv, comparison_csv
from nesting.files import whole_file
from nesting.measures import shown_for

__all__ = ["write_comparison"]

DOTS = 200
"""Dots to the inch of PNG files."""


def write_comparison(comparison: Comparison, folder: Path, paper: str) -> tuple[Path, ...]:
    """Write lists (CSV), heat map and curve (SVG, PNG) and the page (PDF).

    All is drawn before the first file is written, and each appears whole.

    Parameters
    ----------
    paper
        Of the page, lying: a key of `nesting.drawing.paper.PAPERS`.

    Raises
    ------
    DrawingError
        When there is no such paper.
    FileError
        When a file cannot be written.
    """
    made: dict[str, bytes] = {
        "comparison.csv": comparison_csv(comparison).encode("utf-8-sig"),
        "breakpoints.csv": breakpoints_csv(comparison).encode("utf-8-sig"),
    }
    with shown_for(comparison.workshop), plain_style():
        for name, figure in (("heat-map", heat_map_figure(comparison)), ("curve", curve_figure(comparison))):
            made[f"{name}.svg"] = _drawn(figure, "svg")
            made[f"{name}.png"] = _drawn(figure, "png")
        made["comparison.pdf"] = _drawn(meeting_page(comparison, paper), "pdf")
    for name, content in made.items():
        with whole_file(folder / name) as part:
            part.write_bytes(content)
    return tuple(folder / name for name in made)


def _drawn(figure, kind: str) -> bytes:  # type: ignore[no-untyped-def]
    out = io.BytesIO()
    dates = {"svg": {"Date": None}, "pdf": {"CreationDate": None, "ModDate": None}, "png": {}}
    figure.savefig(out, format=kind, dpi=DOTS, metadata=dates[kind])
    return out.getvalue()
