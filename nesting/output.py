"""The folder a plan is written into: whole or not at all."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from nesting.errors import NestingError
from nesting.model import Plan
from nesting.planfile import plan_to_json
from nesting.reports.summary import summary_csv, summary_json
from nesting.sawcuts import Grouping

__all__ = ["check_folder", "patterns_folder", "whole_folder", "write_plan"]

MARK = "plan.json"
"""The file by which a folder is known as one of ours."""


def patterns_folder() -> Path:
    """Where the range files that ship with the program are: in the package, or beside it in a source tree."""
    inside = Path(__file__).parent / "patterns"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "patterns"


def check_folder(folder: Path, mark: str = MARK, what: str = "a plan") -> None:
    """Refuse a folder that cannot be written, before any work is done.

    An earlier folder of the same kind is replaced; a folder with anything else in it is left alone.

    Parameters
    ----------
    mark
        The file by which a folder of that kind is known.
    what
        What such a folder is called.

    Raises
    ------
    NestingError
        When the folder holds other files, is not a folder, or cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise NestingError(f"{folder} is a file. Give a folder to write into.")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / mark).is_file():
        raise NestingError(
            f"{folder} holds files that are not {what} of this program; nothing was written. "
            "Choose a new or empty folder."
        )
    # A plan may take long; nobody should wait for one that then cannot be kept.
    place = folder.absolute()
    while not place.exists():
        place = place.parent
    if place == folder.absolute():
        place = place.parent  # the folder itself is replaced by renaming
    try:
        with TemporaryDirectory(dir=place, prefix=".nesting-"):
            pass
    except OSError as error:
        raise _unwritable(folder, error) from error


def write_plan(
    plan: Plan,
    folder: Path,
    paper: str | None = None,
    workers: int = 1,
    group: Grouping = "product",
) -> tuple[Path, ...]:
    """Write drawings, lists, summary and the plan itself; an earlier plan in `folder` is replaced.

    Everything is written beside the folder first and put in place by renaming.

    Parameters
    ----------
    paper, group
        As for `draw_plan`: None for the workshop's own paper.

    Returns
    -------
    tuple of Path
        What is in the folder now.

    Raises
    ------
    NestingError
        When the folder cannot be written.
    LayoutError
        When the saw plan of a foam does not add up to its blocks; nothing is written.
    """
    from nesting.drawing import draw_plan
    from nesting.sawcheck import check_foam_plan

    for item in plan.materials:
        check_foam_plan(item)
    with whole_folder(folder) as part:
        draw_plan(plan, part, paper, workers, group)
        (part / "summary.csv").write_text(summary_csv(plan), encoding="utf-8-sig")
        (part / "summary.json").write_text(summary_json(plan), encoding="utf-8")
        (part / MARK).write_bytes(plan_to_json(plan))
    return tuple(sorted(path for path in folder.rglob("*") if path.is_file()))


@contextmanager
def whole_folder(folder: Path, mark: str = MARK, what: str = "a plan") -> Iterator[Path]:
    """Hand out a temporary folder beside `folder`, which it replaces when the block ends well.

    Parameters
    ----------
    mark, what
        As for `check_folder`.

    Raises
    ------
    NestingError
        When the folder holds anything else, or cannot be written.
    """
    check_folder(folder, mark, what)
    folder = folder.absolute()
    part = folder.with_name(f".{folder.name}-{secrets.token_hex(4)}.part")
    try:
        part.mkdir(parents=True)
        yield part
        if folder.exists():
            old = part.with_suffix(".old")
            folder.replace(old)
            part.replace(folder)
            shutil.rmtree(old, ignore_errors=True)
        else:
            part.replace(folder)
    except NestingError:
        raise
    except OSError as error:
        raise _unwritable(folder, error) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _unwritable(folder: Path, error: OSError) -> NestingError:
    why = error.strerror or str(error)
    return NestingError(
        f"{folder}: cannot be written ({why}). Close files that are open there, make room, or choose "
        "another folder."
    )
