"""Calling the program in a test as the shell would."""

from __future__ import annotations

import sys

import pytest

from nesting.cli import main

__all__ = ["run"]


def run(monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    """Run a command; returns its exit code."""
    monkeypatch.setattr(sys, "argv", ["nesting", *map(str, words)])
    with pytest.raises(SystemExit) as left:
        main()
    return int(left.value.code or 0)
