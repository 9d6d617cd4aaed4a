"""What single cells of a table say: text and numbers as people write them."""

from __future__ import annotations

import re

from nesting.reading.tables import Cell

__all__ = ["cell_text", "read_number"]


def cell_text(cell: Cell) -> str | None:
    """A cell as text; order numbers and names are often typed as numbers."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return None if cell is None else str(cell)


def read_number(text: str) -> float | None:
    """The number that text means, with a decimal point or comma and groups of three; None if none.

    Raises
    ------
    ValueError
        When it could be one of two numbers; the message says what to do, as a sentence.
    """
    text = re.sub(r"(?<=[0-9])[ \u00a0\u202f](?=[0-9]{3}(?![0-9]))", "", text)
    if found := re.fullmatch(r"([0-9]{1,3})[.,]([0-9]{3})", text):
        decimal = f"{float(f'{found[1]}.{found[2]}'):g}"
        grouped = str(int(found[1] + found[2]))
        raise ValueError(f"It could be {decimal} or {grouped}: write one of these, without comma or point.")
    if re.fullmatch(r"[0-9]{1,3}(,[0-9]{3})+\.[0-9]+", text):
        text = text.replace(",", "")
    elif re.fullmatch(r"[0-9]{1,3}(\.[0-9]{3})+,[0-9]+", text):
        text = text.replace(".", "")
    if re.fullmatch(r"-?[0-9]+([.,][0-9]+)?", text):
        return float(text.replace(",", "."))
    return None
