"""Files that appear whole or not at all, under names that every system accepts."""

from __future__ import annotations

import re
import secrets
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from nesting.errors import NestingError

__all__ = ["FileError", "safe_names", "whole_file"]

LONGEST_NAME = 60
"""Longest file name made from a key; leaves room for folders where whole paths are limited."""

RESERVED = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{i}" for port in ("com", "lpt") for i in range(10)}
)
"""Names that some systems keep for devices (from memory, unverified)."""


class FileError(NestingError, OSError):
    """A file or folder could not be written; says which, why and what to do."""


def _file_error(path: Path, error: OSError) -> FileError:
    why = error.strerror or str(error)
    return FileError(
        f"{path}: cannot be written ({why}). Close the file if it is open elsewhere, make room, or choose "
        "another folder."
    )


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Hand out a temporary path beside `path`; rename it to `path` when the block ends well.

    When the block raises, the temporary file is removed and an older `path` stays as it was.

    Raises
    ------
    FileError
        When the folder or the file cannot be written.
    """
    part = path.with_name(f".{path.stem[:LONGEST_NAME]}-{secrets.token_hex(6)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield part
        part.replace(path)
    except FileError:
        raise
    except OSError as error:
        raise _file_error(path, error) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def safe_names(keys: Iterable[str]) -> dict[str, str]:
    """A file name for every key: plain letters, digits, dots, dashes and underscores, no two alike.

    Accents are dropped and other characters become a dash; a key that leaves nothing is called
    ``item``. Names that would be the same, or differ only in capitals, get a number.
    """
    names: dict[str, str] = {}
    taken: set[str] = set()
    for key in keys:
        plain = unicodedata.normalize("NFKD", key).encode("ascii", "ignore").decode()
        base = re.sub(r"[^A-Za-z0-9._-]+", "-", plain).strip(".-_")[:LONGEST_NAME].rstrip(".-_") or "item"
        if base.partition(".")[0].lower() in RESERVED:
            base = f"{base}-item"
        name, count = base, 1
        while name.lower() in taken:
            count += 1
            name = f"{base}-{count}"
        taken.add(name.lower())
        names[key] = name
    return names
