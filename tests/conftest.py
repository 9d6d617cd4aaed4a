"""What all tests share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="session")
def patterns() -> Path:
    """Folder of the range files that ship with the program."""
    return ROOT / "patterns"


@pytest.fixture(scope="session")
def bench() -> Path:
    """Folder of the public benchmark instances; tests that need it are skipped where it is absent."""
    folder = Path(os.environ.get("NESTING_BENCH", ROOT.parent / "shared" / "bench"))
    if not folder.is_dir():
        pytest.skip("the public benchmark instances are not here (set NESTING_BENCH to their folder)")
    return folder
