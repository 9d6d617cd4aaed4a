"""Lengths cut from bars, tapes or strips: one-dimensional cutting stock with several stock lengths.

`pack_bars` is the way in. It works on whole grid steps and knows nothing of keys or millimetres.
"""

from nesting.packing.linear.pack import pack_bars
from nesting.packing.linear.task import BarPattern, BarPlan, StockBar

__all__ = ["BarPattern", "BarPlan", "StockBar", "pack_bars"]
