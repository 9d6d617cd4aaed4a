"""The catalogue: what a factory makes and of what, read from a range file and checked.

::

    range file -> toml -> fields, materials, modelfile -> Range
        Range.panels(model, size)      compose: formulas worked out, generators called
        Range.find_model, find_size    lookup: what an order calls them
        check(range)                   fit: every model made in every size, every panel tried

`load_range` tells everything that is wrong with a file at once, and returns a `Range` only when all is
well.
"""

from nesting.catalogue.check import check
from nesting.catalogue.entries import Model, PanelEntry
from nesting.catalogue.formula import Formula, FormulaError
from nesting.catalogue.parser import parse
from nesting.catalogue.rangefile import load_range
from nesting.catalogue.ranges import Range
from nesting.reading.units import to_mm

__all__ = [
    "Formula",
    "FormulaError",
    "Model",
    "PanelEntry",
    "Range",
    "check",
    "load_range",
    "parse",
    "to_mm",
]
