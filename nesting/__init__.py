"""Cutting-room planner for bed makers: a week's orders become verified cut maps.

Read `nesting.planning` first: it is the whole way from orders to plan on one screen. The packing core,
`nesting.packing`, is usable by itself.
"""

from importlib.metadata import PackageNotFoundError, version

__all__ = ["__version__"]

try:
    __version__ = version("nesting")
except PackageNotFoundError:  # run from a source tree that is not installed
    __version__ = "0+source"
