"""Invented materials that the tests of panel generators cut from."""

import pytest

from nesting.model import BlockMaterial, RollMaterial, SheetMaterial


@pytest.fixture(scope="session")
def roll() -> RollMaterial:
    """Cloth 2150 usable, 60 m long, not quilted after cutting."""
    return RollMaterial(key="cloth", name="Cloth", width=2200, edge_trim=25, roll_length=60_000)


@pytest.fixture(scope="session")
def quilted_later() -> RollMaterial:
    """The same cloth, quilted after cutting: it loses 4 % along and 2 % across."""
    return RollMaterial(
        key="ticking",
        name="Ticking",
        width=2200,
        edge_trim=25,
        roll_length=60_000,
        contraction_along=0.04,
        contraction_across=0.02,
    )


@pytest.fixture(scope="session")
def sheet() -> SheetMaterial:
    """A board of 2440 x 1220, without trim, that may be turned."""
    return SheetMaterial(key="board", name="Board", length=2440, width=1220)


@pytest.fixture(scope="session")
def block() -> BlockMaterial:
    """A foam block of 28 kg/m3, cut without kerf."""
    return BlockMaterial(key="foam", name="Foam", length=2200, width=2100, height=1000, density=28)
