"""Whether everything a range offers can be made and laid on its materials."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nesting.catalogue.compose import compose
from nesting.catalogue.entries import Model, PanelEntry
from nesting.catalogue.fit import misfit, permitted_turns
from nesting.catalogue.ranges import Range
from nesting.errors import Finding
from nesting.measures import reworded, shown_for
from nesting.model import Panel
from nesting.reading.findings import Findings, listed

__all__ = ["check"]

SUBSTITUTION = "Another material may end the validity of an earlier fire test."
"""Goes with every other material that is named; this program never approves one."""

MAX_SUGGESTIONS = 3
"""Most other materials named as wide enough."""


@dataclass(frozen=True, slots=True)
class _Fault:
    """A finding, the size it was made for, and by how much a panel does not fit, mm."""

    finding: Finding
    size: str
    topic: str
    """Faults at one place that share it are the same fault in several sizes."""
    excess: float = 0.0


def check(range_: Range) -> tuple[Finding, ...]:
    """Make every model in every size and try every panel on its material.

    Returns
    -------
    tuple of Finding
        Empty when all is well. A fault that several sizes share is listed once, for the size in which
        it is worst.
    """
    findings = Findings(range_.file)
    for model in range_.models.values():
        alike: dict[tuple[str, str], list[_Fault]] = {}
        for size_key in model.sizes:
            for fault in _faults(range_, model, size_key):
                alike.setdefault((fault.finding.place, fault.topic), []).append(fault)
        findings.extend(_merged(faults, model) for faults in alike.values())
    return findings.listing()


def _faults(range_: Range, model: Model, size_key: str) -> list[_Fault]:
    made, found = compose(range_.file, model, range_.sizes[size_key], range_.materials, range_.allowances)
    faults = [_Fault(finding, size_key, finding.remedy) for finding in found]
    for entry, panel in made:
        fault = misfit(panel, range_.materials[panel.material])
        if fault is None:
            continue
        others = _other_materials(range_, panel, entry)
        remedy = f"{fault.remedy} {listed(others)} would take it. {SUBSTITUTION}" if others else fault.remedy
        part = "" if panel.code == entry.code else f" {panel.code!r}"
        with shown_for(range_.workshop):
            words = [reworded(text) for text in (fault.found, fault.allowed, remedy)]
        finding = Finding(range_.file, f"{entry.place}{part}", *words)
        faults.append(_Fault(finding, size_key, "fit", fault.excess))
    return faults


def _other_materials(range_: Range, panel: Panel, entry: PanelEntry) -> list[str]:
    """Keys of a few materials of the same kind on which the panel could be laid."""
    kind = range_.materials[panel.material].kind
    fitting = []
    for key, material in range_.materials.items():
        permitted = permitted_turns(material, may_turn=entry.may_turn, shaped=bool(panel.outline))
        turns = tuple(turn for turn in permitted if entry.turns is None or turn in entry.turns)
        if material.kind == kind and turns and misfit(replace(panel, turns=turns), material) is None:
            fitting.append(key)
    return fitting[:MAX_SUGGESTIONS]


def _merged(faults: list[_Fault], model: Model) -> Finding:
    worst = max(faults, key=lambda fault: fault.excess)
    same = len({fault.size for fault in faults}) == len(model.sizes) and all(
        fault.finding == worst.finding for fault in faults
    )
    if same:
        return worst.finding
    others = len({fault.size for fault in faults}) - 1
    more = f" and {others} more size{'s' if others > 1 else ''}" if others else ""
    return replace(worst.finding, place=f"{worst.finding.place}, size {worst.size}{more}")
