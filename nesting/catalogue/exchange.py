"""Between a range file and its workbook: both ways through the checks of a range."""

from __future__ import annotations

from pathlib import Path

from nesting.catalogue.rangefile import MAX_BYTES, load_range, range_of
from nesting.catalogue.toml import toml_tables
from nesting.catalogue.tomltext import changed_text, remarks
from nesting.catalogue.workbook import Tables, range_workbook, workbook_tables
from nesting.errors import Finding, InputError
from nesting.files import whole_file
from nesting.reading.files import read_limited

__all__ = ["write_range", "write_workbook"]


def write_workbook(range_file: Path, output: Path) -> dict[str, int]:
    """Write the workbook of a range file.

    Returns
    -------
    dict
        How many materials, sizes, models, panels and allowances it holds.

    Raises
    ------
    InputError
        When the range file does not pass its checks, or `output` is no ``.xlsx``.
    FileError
        When the workbook cannot be written.
    """
    _check_ending(output, ".xlsx", "a workbook")
    content = read_limited(range_file, limit=MAX_BYTES, kind="a range file")
    tables = toml_tables(str(range_file), content)
    range_of(str(range_file), tables)
    with whole_file(output) as part:
        part.write_bytes(range_workbook(tables, remarks(content.decode("utf-8-sig"), "allowances")))
    made: Tables = tables
    counts = {group: len(made.get(group, {})) for group in ("materials", "sizes", "models", "allowances")}
    counts["panels"] = sum(len(model.get("panels", [])) for model in made["models"].values())
    return counts


def write_range(workbook: Path, output: Path) -> list[str]:
    """Write the range that a workbook holds; an older range file keeps its remarks and order.

    Returns
    -------
    list of str
        A line for every value that differs from the older file.

    Raises
    ------
    InputError
        When the workbook does not pass the checks of a range, the older file is no TOML, or `output` is no
        ``.toml``.
    FileError
        When the file cannot be written.
    """
    _check_ending(output, ".toml", "a range file")
    load_range(workbook)
    content = read_limited(workbook, limit=MAX_BYTES, kind="a range file")
    tables, _ = workbook_tables(str(workbook), content)
    text = ""
    if output.exists():
        older = read_limited(output, limit=MAX_BYTES, kind="a range file")
        toml_tables(str(output), older)
        text = older.decode("utf-8-sig")
    text, changes = changed_text(tables, text)
    range_of(str(output), toml_tables(str(output), text.encode()))
    with whole_file(output) as part:
        part.write_bytes(text.encode())
    return changes


def _check_ending(path: Path, ending: str, what: str) -> None:
    if path.suffix.casefold() != ending:
        remedy = f"Give it a name that ends in {ending}."
        raise InputError([Finding(str(path), "--output", path.name, f"{what} ({ending})", remedy)])
