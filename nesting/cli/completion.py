"""What the shell offers for names: those of the range file on the line, read without checking it.

Whatever goes wrong, a shell that is asked for completions must stay quiet: then nothing is offered.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typer

__all__ = ["materials", "models", "sizes"]

MAX_BYTES = 5_000_000
"""Largest range file that is looked into, as for `load_range`."""

Offer = tuple[str, str]
"""A key, and the name that some shells show beside it."""


def models(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Keys of models that begin so."""
    return _offers(_tables(ctx, "models"), incomplete)


def sizes(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Keys of sizes that begin so; those of the model, once it is on the line."""
    found = _tables(ctx, "sizes")
    model = _tables(ctx, "models").get(str(ctx.params.get("model")), {})
    made_in = model.get("sizes")
    if isinstance(made_in, list):
        found = {key: table for key, table in found.items() if key in made_in}
    return _offers(found, incomplete)


def materials(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Keys of materials that begin so."""
    return _offers(_tables(ctx, "materials"), incomplete)


def _tables(ctx: typer.Context, kind: str) -> Mapping[str, dict[str, Any]]:
    import tomllib

    # While a line is unfinished the parser may leave its arguments unsorted.
    words = [ctx.params.get("range_file"), *ctx.args]
    path = next((Path(str(word)).expanduser() for word in words if str(word).endswith(".toml")), None)
    try:
        if path is None or path.stat().st_size > MAX_BYTES:
            return {}
        group = tomllib.loads(path.read_text(encoding="utf-8-sig")).get(kind)
    except (OSError, RuntimeError, ValueError, RecursionError):
        return {}
    return (
        {key: table for key, table in group.items() if isinstance(table, dict)}
        if isinstance(group, dict)
        else {}
    )


def _offers(tables: Mapping[str, dict[str, Any]], incomplete: str) -> list[Offer]:
    begun = incomplete.casefold()
    return [
        (key, str(table.get("name", key)))
        for key, table in tables.items()
        if key.casefold().startswith(begun)
    ]
