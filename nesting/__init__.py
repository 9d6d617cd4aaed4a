"""Cutting-room planner for bed makers: a week's orders become verified cut maps.

Read `nesting.planning` first: it is the whole way from orders to plan on one screen. The packing core,
`nesting.packing`, is usable by itself.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
