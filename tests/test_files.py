"""Whole files and safe names."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.files import FileError, safe_names, whole_file


def test_a_finished_file_is_in_place_and_nothing_else(tmp_path: Path) -> None:
    """The folder is made, the file is there, no temporary file stays."""
    target = tmp_path / "new" / "cut-list.csv"
    with whole_file(target) as part:
        part.write_text("whole")
        assert not target.exists()
    assert [path.name for path in target.parent.iterdir()] == ["cut-list.csv"]
    assert target.read_text() == "whole"


def test_a_failed_file_leaves_the_old_one(tmp_path: Path) -> None:
    """An error half-way changes nothing."""
    target = tmp_path / "map.svg"
    target.write_text("old")
    with pytest.raises(RuntimeError, match="half-way"), whole_file(target) as part:
        part.write_text("new")
        raise RuntimeError("half-way")
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["map.svg"]


def test_a_folder_that_is_a_file_is_reported_in_words(tmp_path: Path) -> None:
    """Place, reason and remedy, no traceback of the system's own error."""
    (tmp_path / "taken").write_text("a file")
    with (
        pytest.raises(FileError, match=r"map\.svg: cannot be written .*choose another folder"),
        whole_file(tmp_path / "taken" / "map.svg"),
    ):
        pass


def test_a_file_in_the_way_of_a_folder_is_reported(tmp_path: Path) -> None:
    """Renaming onto a folder fails with the same words."""
    (tmp_path / "maps.pdf" / "inside").mkdir(parents=True)
    with (
        pytest.raises(FileError, match=r"maps\.pdf: cannot be written"),
        whole_file(tmp_path / "maps.pdf") as part,
    ):
        part.write_text("x")


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("ticking", "ticking"),
        ("foam 30/40", "foam-30-40"),
        ("../../etc", "etc"),
        ("Größe", "Groe"),
        ("超大", "item"),
        ("CON", "CON-item"),
        ("nul.txt", "nul.txt-item"),
        ("a" * 80, "a" * 60),
    ],
)
def test_keys_become_plain_names(key: str, name: str) -> None:
    """No separators, no device names, nothing but plain letters."""
    assert safe_names([key]) == {key: name}


def test_names_that_differ_only_in_capitals_get_a_number() -> None:
    """Some file systems would take them for one."""
    assert safe_names(["Foam", "foam", "FOAM"]) == {"Foam": "Foam", "foam": "foam-2", "FOAM": "FOAM-3"}


@given(st.lists(st.text(max_size=90), unique=True, max_size=12))
def test_names_are_always_safe_and_different(keys: list[str]) -> None:
    """Whatever the keys are."""
    names = list(safe_names(keys).values())
    assert len({name.lower() for name in names}) == len(keys)
    for name in names:
        assert name
        assert not name.startswith(".")
        assert set(name) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-")
