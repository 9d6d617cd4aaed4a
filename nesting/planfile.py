"""Saved plans: `plan.json` holds everything a plan is, and can be read back."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.errors import Finding, InputError
from nesting.model import Plan

if TYPE_CHECKING:
    from pydantic import TypeAdapter

__all__ = ["FORMAT", "plan_from_json", "plan_to_json", "read_plan"]

FORMAT = "nesting-plan-1"
"""Changes when an older program could no longer read the file."""

MAX_BYTES = 200_000_000
"""Largest plan file that is read: far beyond a factory's month."""


@cache
def _adapter() -> TypeAdapter[Plan]:
    from pydantic import TypeAdapter

    return TypeAdapter(Plan)


def plan_to_json(plan: Plan) -> bytes:
    """The plan as indented JSON, its format named first."""
    body: bytes = _adapter().dump_json(plan, indent=1)
    return b'{\n "format": "' + FORMAT.encode() + b'",\n "plan": ' + body.replace(b"\n", b"\n ") + b"\n}\n"


def plan_from_json(data: bytes, name: str) -> Plan:
    """Read a plan back.

    Parameters
    ----------
    name
        File name for messages.

    Raises
    ------
    InputError
        When the data is no plan, or one of another format.
    """
    import json

    from pydantic import ValidationError

    try:
        document = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise _refusal(name, "the file", "text that is cut short or changed") from error
    found = document.get("format") if isinstance(document, dict) else None
    if found != FORMAT:
        raise _refusal(name, "format", found)
    try:
        return _adapter().validate_python(document.get("plan"))
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"]) or "plan"
        raise _refusal(name, place, first.get("input")) from error


def read_plan(path: Path) -> Plan:
    """Read a plan file; see `plan_from_json`."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise _refusal(path.name, "the file", f"{path.stat().st_size / 1e6:.0f} MB")
        data = path.read_bytes()
    except OSError as error:
        remedy = f"{error.strerror}: check the path."
        finding = Finding(path.name, "the file", None, "a plan.json that can be read", remedy)
        raise InputError([finding]) from error
    return plan_from_json(data, path.name)


def _refusal(name: str, place: str, value: object) -> InputError:
    return InputError(
        [
            Finding(
                name,
                place,
                value,
                f"a plan written by this program ({FORMAT})",
                "Give the plan.json of a run of 'nesting plan', unchanged, or plan again.",
            )
        ]
    )
