"""Sentences about a comparison, as the workshop writes measures; everything here is inside `shown_for`."""

from __future__ import annotations

from nesting.comparing.results import Breakpoint, Comparison, as_good
from nesting.comparing.variants import AXES, size_of
from nesting.measures import cut_measure, fixed, measure, percent, unit

__all__ = ["best_choices", "breakpoint_words", "money", "side_words", "subject", "variant_name"]

SAY_NO_MORE = 0.0005
"""Costs that differ by a smaller share are called equal."""


def money(comparison: Comparison, value: float, places: int = 2) -> str:
    """An amount of money with its currency."""
    return f"{fixed(value, places)} {comparison.currency}"


def varied(comparison: Comparison) -> tuple[str, ...]:
    """The sides in which the variants differ, as `AXES` calls them."""
    axes = AXES[comparison.material.kind]
    sizes = [size_of(variant.material) for variant in comparison.variants]
    columns = zip(axes, zip(*sizes, strict=True), strict=True)
    return tuple(axis for axis, sides in columns if len(set(sides)) > 1) or axes


def subject(comparison: Comparison) -> str:
    """What is compared: ``"roll width"``, ``"block height"``, or ``"block size"`` where more differs."""
    axes = varied(comparison)
    kind = comparison.material.kind
    return f"{kind} {axes[0]}" if len(axes) == 1 else f"{kind} size"


def variant_name(comparison: Comparison, place: int) -> str:
    """A variant without its unit, by the side in which it differs or all of them."""
    material = comparison.variants[place].material
    axes = varied(comparison)
    sides = (getattr(material, axis) for axis in (axes if len(axes) == 1 else AXES[material.kind]))
    return " x ".join(measure(side) for side in sides)


def side_words(value: float, point: Breakpoint) -> str:
    """A value of a breakpoint, without unit."""
    return measure(value) if point.kind == "stock" else cut_measure(value)


def best_choices(comparison: Comparison) -> list[str]:
    """Which variant is cheapest for all beds, and for which sizes it is another; honest about the gap."""
    found = []
    costs = [(total[0], place) for place, total in enumerate(comparison.whole) if total is not None]
    if costs:
        cost, best = min(costs)
        name = f"{variant_name(comparison, best)} {unit()}"
        words = f"For {comparison.shares}, {name} is the cheapest: {money(comparison, cost)} a bed"
        present = comparison.whole[comparison.present]
        if best == comparison.present:
            words += ", and it is the present one."
        elif present is None:
            words += "; the present one does not fit all."
        else:
            less = 1.0 - cost / present[0]
            words += (
                f", {percent(less)} less than the present {variant_name(comparison, comparison.present)}."
            )
            sure = present[1] - cost
            if sure <= 0:
                words += " That is within what is not proven: they may be equal."
        found.append(words)
        ties = [
            variant_name(comparison, place)
            for other, place in costs
            if place != best and (comparison.whole[place] or (0, 0, 0))[1] <= cost
        ]
        if ties and best != comparison.present:
            found[-1] += f" Not proven dearer: {', '.join(ties)}."
        elif ties:
            found[-1] += f" {', '.join(ties)} may be as cheap, for all that is proven."
    elif len(comparison.variants) > 1:
        found.append(f"No single {subject(comparison)} here fits all of them.")
    others = _others(comparison)
    if others:
        found.append(others)
    return found


def _others(comparison: Comparison) -> str:
    """For each variant the sizes for which, alone, it is cheapest."""
    by: dict[int, list[str]] = {}
    unfit = []
    one_model = len({row.case.model for row in comparison.rows}) == 1
    for row in comparison.rows:
        best = row.best()
        name = row.case.size_name if one_model else row.case.name
        if best is None:
            unfit.append(name)
        else:
            by.setdefault(best, []).append(name)
    parts: list[str] = []
    for place in sorted(by, key=lambda place: -len(by[place])):
        names = by[place]
        listed = " and ".join(names)
        if len(names) == len(comparison.rows):
            listed = "every one of them"
        elif len(names) > 3:
            listed = f"{len(names)} of {len(comparison.rows)}"
        verb = "is cheapest " if not parts else ""
        parts.append(f"{variant_name(comparison, place)} {verb}for {listed}")
    words = f"Each alone: {'; '.join(parts)}." if parts else ""
    if unfit:
        words += f" Nothing here fits {'; '.join(unfit[:3])}{' and others' if len(unfit) > 3 else ''}."
    return words.strip()


def almost(comparison: Comparison, row: int, place: int) -> bool:
    """Whether a variant may be as cheap for a case as its best, which it is not by its plan."""
    outcomes = comparison.rows[row].alone
    best = comparison.rows[row].best()
    return best is not None and place != best and as_good(outcomes[place], outcomes[best])


def breakpoint_words(comparison: Comparison, point: Breakpoint) -> tuple[str, str, str]:
    """What to change, what fits then, and what that saves."""
    step = (
        f"{point.name.capitalize()} {side_words(point.now, point)} to {side_words(point.at, point)} {unit()}"
    )
    change = point.at - point.now
    sign = "+" if change > 0 else "-"
    head = f"{step} ({sign}{side_words(abs(change), point)})"
    if point.fitting is None:
        fits = f"At {side_words(point.at, point)} a better arrangement fits"
    else:
        pieces = " + ".join(
            f"{count} x {name} ({measure(size)})" for name, size, count in point.fitting.pieces
        )
        narrower = point.kind == "stock" and point.at < point.now
        verb = "still fits" if narrower else "then fits"
        fits = f"{point.fitting.direction.capitalize()}: {pieces} = {measure(point.fitting.total)} {verb}"
    at_short = side_words(point.short, point)
    if point.cost_short == float("inf"):
        fits += f"; at {at_short} something can no longer be cut."
    else:
        fits += f"; at {at_short} it does not ({money(comparison, point.cost_short)} a bed)."
    saves = (
        f"{money(comparison, point.cost_at)} instead of {money(comparison, point.cost_now)} a bed: saves "
        f"{money(comparison, point.saving)} a bed, {money(comparison, point.yearly, 0)} a year"
    )
    share = min(1.0, point.sure / point.saving)
    if share > 1.0 - 1e-3:
        saves += " (all of it proven)."
    elif share <= 0:
        saves += " (by the plans found; not proven)."
    else:
        saves += f" (proven: {money(comparison, point.sure * point.volume, 0)})."
    return head, fits, saves
