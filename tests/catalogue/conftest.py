"""A small invented range, whole or with a change."""

from __future__ import annotations

from pathlib import Path

import pytest

from nesting.catalogue import load_range
from nesting.errors import InputError

SMALL = Path(__file__).parents[1] / "data" / "ranges" / "small.toml"


@pytest.fixture(scope="session")
def small():
    """The small range as it is."""
    return load_range(SMALL)


@pytest.fixture
def edited(tmp_path):
    """Writes the small range with texts replaced, ``edited((old, new), ...)``, and returns its path."""

    def write(*changes: tuple[str, str]) -> Path:
        text = SMALL.read_text(encoding="utf-8")
        for old, new in changes:
            assert text.count(old) >= 1, f"{old!r} is not in the small range"
            text = text.replace(old, new, 1)
        path = tmp_path / "range.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def findings(edited):
    """The findings about the small range with texts replaced."""

    def found(*changes: tuple[str, str]):
        with pytest.raises(InputError) as caught:
            load_range(edited(*changes))
        return caught.value.findings

    return found
