"""The packing core: rolls, sheets, blocks and bars. Usable by itself; knows nothing of beds or files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nesting.packing.problem import (
    Bar,
    Block,
    BlockProblem,
    Flaw,
    Kerfs,
    LinearProblem,
    Piece,
    Problem,
    RackProblem,
    Recipe,
    Roll,
    RollProblem,
    Sheet,
    SheetProblem,
    Skins,
    Trim,
)
from nesting.packing.solution import Answer, CutNode, Glued, Layout, Missing, Part, Placement, Status

if TYPE_CHECKING:
    from nesting.packing.search import Report
    from nesting.packing.solver import solve
    from nesting.packing.verifier import verify

__all__ = [
    "Answer",
    "Bar",
    "Block",
    "BlockProblem",
    "CutNode",
    "Flaw",
    "Glued",
    "Kerfs",
    "Layout",
    "LinearProblem",
    "Missing",
    "Part",
    "Piece",
    "Placement",
    "Problem",
    "RackProblem",
    "Recipe",
    "Report",
    "Roll",
    "RollProblem",
    "Sheet",
    "SheetProblem",
    "Skins",
    "Status",
    "Trim",
    "solve",
    "verify",
]

_LATE = {"Report": "search", "solve": "solver", "verify": "verifier"}


def __getattr__(name: str) -> Any:
    """Load the engines only when they are used: compiled code and solvers take a second to import."""
    if name in _LATE:
        import importlib

        return getattr(importlib.import_module(f"nesting.packing.{_LATE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
