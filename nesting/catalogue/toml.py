"""The TOML text of a range file, with plain words for what is not TOML."""

from __future__ import annotations

import re
import tomllib

from nesting.errors import Finding, InputError

__all__ = ["toml_tables"]

_WRITTEN_TWICE = re.compile(r"duplicate|overwrite|twice|mutate|immutable|redefine|namespace", re.IGNORECASE)


def toml_tables(name: str, content: bytes) -> dict[str, object]:
    """The tables of a TOML file.

    Parameters
    ----------
    name
        Name of the file, for messages.
    content
        Its bytes; a byte order mark is allowed.

    Raises
    ------
    InputError
        When it is not UTF-8 or not TOML; the finding names the line.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        value = f"the byte {content[error.start]:02X}"
        remedy = "Save the file as UTF-8 in the text editor."
        raise InputError([Finding(name, f"line {line}", value, "UTF-8 text", remedy)]) from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError([_not_toml(name, text, str(error))]) from None
    except (RecursionError, ValueError):  # brackets or digits by the thousand
        remedy = "Take out very long numbers and deeply nested brackets."
        finding = Finding(name, "the file", "text that cannot be read", "a range file in TOML", remedy)
        raise InputError([finding]) from None


def _not_toml(name: str, text: str, message: str) -> Finding:
    lines = text.split("\n")
    at = re.search(r"\(at line (\d+), column (\d+)\)", message)
    row = min(int(at[1]), len(lines)) if at else len(lines)
    place = f"line {row}, column {at[2]}" if at else f"line {row}, the end of the file"
    if _WRITTEN_TWICE.search(message):
        allowed, remedy = "every name and table once", "It is already written above: join the two."
    else:
        allowed = 'TOML: name = value, text in "quotes", tables in [brackets]'
        remedy = "Look for a missing quote, bracket or equals sign here or just above."
    return Finding(name, place, lines[row - 1].strip(), allowed, remedy)
