"""Small invented ranges whose figures can be worked out by hand."""

from __future__ import annotations

import pytest

from nesting.catalogue import load_range

STRIP = """
[range]
name = "Plain panels (invented)"
currency = "EUR"

[allowances]
seam = 10
crown = 0
foam_oversize = 0
thickness = 100

[sizes]
wide = { name = "Wide", width = 980, length = 1900 }
narrow = { name = "Narrow", width = 380, length = 1900 }

[materials.cloth]
name = "Cloth"
kind = "roll"
width = 2040
edge_trim = 25
roll_length = "60 m"
price = 10

[materials.tape]
name = "Tape"
kind = "roll"
width = 40
roll_length = "60 m"
process = "lengths"

[materials.foam]
name = "Foam"
kind = "block"
length = 1900
width = 980
height = 990
density = 30
price = 100

[models.plain]
name = "Plain"
height = 200
sizes = "all"

[[models.plain.panels]]
generator = "quilted panel"
code = "TP"
name = "Top panel"
material = "cloth"

[[models.plain.panels]]
generator = "foam slab"
code = "CO"
name = "Core"
material = "foam"
sizes = ["wide"]
"""
"""A panel is 1920 x 1000 (wide) or 1920 x 400 (narrow); the cloth's usable width is 1990 mm.

A core is 1900 x 980 x 100, as long and wide as the block.
"""


@pytest.fixture(scope="session")
def strip(tmp_path_factory):
    """The range `STRIP`."""
    path = tmp_path_factory.mktemp("comparing") / "strip.toml"
    path.write_text(STRIP)
    return load_range(path)


@pytest.fixture
def strip_file(tmp_path):
    """Its file, alone in a folder."""
    path = tmp_path / "strip.toml"
    path.write_text(STRIP)
    return path
