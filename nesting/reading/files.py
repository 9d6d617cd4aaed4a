"""Reading a file that a person names, within limits."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from nesting.errors import Finding, InputError
from nesting.reading.units import show

__all__ = ["read_limited"]

MEGABYTE = 1_000_000


def read_limited(path: str | os.PathLike[str], *, limit: int, kind: str) -> bytes:
    """The whole content of an ordinary file.

    Parameters
    ----------
    path
        The file.
    limit
        Most bytes accepted; a larger file is refused before it is read.
    kind
        What the file is, for messages: ``"a range file"``.

    Raises
    ------
    InputError
        When it is missing, no ordinary file, not readable, empty or too large.
    """
    fault = _fault_before_reading(path, limit)
    content = b""
    if fault is None:
        try:
            with Path(path).open("rb") as file:
                content = file.read(limit + 1)  # one more than allowed: it may have grown since
        except OSError as error:
            fault = _cannot_read(error)
    if fault is None and len(content) > limit:
        fault = _too_large(len(content))
    if fault is None and not content.strip():
        fault = "an empty file", f"Name {kind} with something in it."
    if fault is not None:
        allowed = f"{kind} of at most {show(limit / MEGABYTE)} MB"
        raise InputError([Finding(os.fspath(path), "the file", fault[0], allowed, fault[1])])
    return content


def _fault_before_reading(path: str | os.PathLike[str], limit: int) -> tuple[str, str] | None:
    """What was found and what to do about it, when the file must not even be opened."""
    try:
        about = Path(path).stat()
    except OSError as error:
        return _cannot_read(error)
    except ValueError:  # a NUL byte in the name
        return "an impossible file name", "Check the name."
    if stat.S_ISDIR(about.st_mode):
        return "a folder", "Name the file itself, not the folder it is in."
    if not stat.S_ISREG(about.st_mode):
        return "no ordinary file", "Name a file on disk."
    return _too_large(about.st_size) if about.st_size > limit else None


def _cannot_read(error: OSError) -> tuple[str, str]:
    if isinstance(error, FileNotFoundError):
        return "no such file", "Check the name and the folder."
    if isinstance(error, PermissionError):
        return "a file that may not be read", "Close it in other programs, or ask for access."
    return (error.strerror or "an unreadable file").lower(), "Check the name and the disk."


def _too_large(size: int) -> tuple[str, str]:
    return f"{show(size / MEGABYTE)} MB", "Split the file, or take out what is not needed."
