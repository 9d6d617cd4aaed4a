"""The designer's comparison: what beds would need and cost in other widths and sizes of a material.

::

    range, chosen models and sizes -> cases       (request)
    material in other widths       -> variants    (variants)
    cases x variants -> planned, verified -> comparison -> tables, charts, one page
                        \\-> steps: where another combination fits -> breakpoints
"""

from nesting.comparing.comparison import compare
from nesting.comparing.request import Request, request_for
from nesting.comparing.results import Breakpoint, Comparison

__all__ = ["Breakpoint", "Comparison", "Request", "compare", "request_for"]
