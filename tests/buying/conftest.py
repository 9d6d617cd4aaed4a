"""A range that can be reckoned in one's head. All of it is invented.

A bed "Half" takes one piece of 1000 x 500 mm of cloth: two lie side by side on 1000 mm, so 2 beds take 1 m.
It takes a board of the same size, eight of which make a sheet, and a slab 100 thick, of which forty make a
block. "Whole" takes 1000 x 1000 mm and so on.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from nesting.catalogue import Range, load_range

RANGE = """
[range]
name = "Small beds (invented)"
currency = "EUR"

[workshop]
units = "mm"

[sizes]
half = { name = "Half", width = 500, length = 1000 }
whole = { name = "Whole", width = 1000, length = 1000 }

[materials.cloth]
name = "Cloth"
kind = "roll"
width = 1000
roll_length = "20 m"
process = "guillotine 2"
price = 10
min_remnant = 400

[materials.board]
name = "Board"
kind = "sheet"
length = 2000
width = 2000
price = 16

[materials.foam]
name = "Foam"
kind = "block"
length = 2000
width = 1000
height = 1000
density = 30
price = 100

[models.plain]
name = "Plain"
height = 200
sizes = "all"

[[models.plain.panels]]
generator = "plain panel"
code = "CL"
name = "Cover"
material = "cloth"

[[models.plain.panels]]
generator = "plain panel"
code = "BO"
name = "Board"
material = "board"

[[models.plain.panels]]
generator = "plain panel"
code = "SL"
name = "Slab"
material = "foam"
thickness = 100
"""


@pytest.fixture(scope="session")
def range_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("range") / "small.toml"
    path.write_text(RANGE, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def small_range(range_file: Path) -> Range:
    return load_range(range_file)
