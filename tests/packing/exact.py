"""Exact references by CP-SAT for tiny problems: models that share nothing with the engines."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from ortools.sat.python import cp_model

__all__ = ["fewest_blocks_free", "shortest_free", "shortest_staged"]


def _solved(model: cp_model.CpModel) -> int:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def _sides(
    model: cp_model.CpModel, sizes: tuple[int, int], turning: bool
) -> tuple[cp_model.LinearExprT, cp_model.LinearExprT]:
    """Extent along and across of a rectangle that may be turned or not."""
    along, across = sizes
    if not turning:
        return along, across
    turned = model.new_bool_var("")
    return along + (across - along) * turned, across + (along - across) * turned


def shortest_free(width: int, items: Sequence[tuple[int, int]], turning: bool) -> int:
    """Shortest strip with free placement: no-overlap constraints over (along, across)."""
    model = cp_model.CpModel()
    ample = sum(max(item) for item in items)
    length = model.new_int_var(0, ample, "length")
    xs, ys = [], []
    for item in items:
        along, across = _sides(model, item, turning)
        x, y = model.new_int_var(0, ample, ""), model.new_int_var(0, width, "")
        x_end, y_end = model.new_int_var(0, ample, ""), model.new_int_var(0, width, "")
        xs.append(model.new_interval_var(x, along, x_end, ""))
        ys.append(model.new_interval_var(y, across, y_end, ""))
        model.add(x_end <= length)
    model.add_no_overlap_2d(xs, ys)
    model.minimize(length)
    return _solved(model)


def shortest_staged(width: int, items: Sequence[tuple[int, int]], turning: bool, stages: int) -> int:
    """Shortest strip of sections across the roll, by assignment: items to strips, strips to sections.

    A strip is as wide as its widest item and as long as all of them together (with two stages it holds
    one); a section is as long as its longest strip, and its strips lie side by side.
    """
    model = cp_model.CpModel()
    numbers = range(len(items))
    ample = sum(max(item) for item in items)
    sides = [_sides(model, item, turning) for item in items]
    # Strips and sections are named after their first item.
    strip = [[model.new_bool_var("") if s <= n else 0 for s in numbers] for n in numbers]
    section = [[model.new_bool_var("") if k <= s else 0 for k in numbers] for s in numbers]
    lengths = [model.new_int_var(0, ample, "") for _ in numbers]
    for n in numbers:
        model.add_exactly_one(strip[n][s] for s in range(n + 1))
        if stages == 2:
            model.add(strip[n][n] == 1)
        for s in range(n):
            model.add_implication(strip[n][s], strip[s][s])
    for s in numbers:
        model.add(sum(section[s][k] for k in range(s + 1)) == strip[s][s])
        reach = model.new_int_var(0, ample, "")
        wide = model.new_int_var(0, width, "")
        taken = []
        for n in range(s, len(items)):
            along, across = sides[n]
            held = strip[n][s]
            share = model.new_int_var(0, ample, "")
            model.add(share == along).only_enforce_if(held)
            model.add(share == 0).only_enforce_if(held.negated())
            model.add(wide >= across).only_enforce_if(held)
            taken.append(share)
        model.add(reach == sum(taken))
        for k in range(s + 1):
            model.add(lengths[k] >= reach).only_enforce_if(section[s][k])
        strip[s].append(wide)
    for k in numbers:
        across = []
        for s in range(k, len(items)):
            share = model.new_int_var(0, width, "")
            model.add(share == strip[s][-1]).only_enforce_if(section[s][k])
            model.add(share == 0).only_enforce_if(section[s][k].negated())
            across.append(share)
        model.add(sum(across) <= width)
    model.minimize(sum(lengths))
    return _solved(model)


def fewest_blocks_free(
    extent: tuple[int, int, int], items: Sequence[tuple[int, int, int]], turning: bool
) -> int:
    """Fewest blocks where boxes, which may turn level, need only lie clear of each other."""
    model = cp_model.CpModel()
    most = len(items)
    spans, numbers = [], []
    for n, (along, across, high) in enumerate(items):
        sides = (*_sides(model, (along, across), turning), high)
        corner = [model.new_int_var(0, room, "") for room in extent]
        for at, side, room in zip(corner, sides, extent, strict=True):
            model.add(at + side <= room)
        # A block is named after a piece that is not listed later.
        numbers.append(model.new_int_var(0, n, ""))
        spans.append(list(zip(corner, sides, strict=True)))
    for n in range(most):
        for m in range(n):
            apart = [model.new_bool_var("") for _ in range(7)]
            model.add_bool_or(apart)
            model.add(numbers[n] != numbers[m]).only_enforce_if(apart[6])
            for axis in range(3):
                (a, wide), (b, broad) = spans[n][axis], spans[m][axis]
                model.add(a + wide <= b).only_enforce_if(apart[2 * axis])
                model.add(b + broad <= a).only_enforce_if(apart[2 * axis + 1])
    used = []
    for block in range(most):
        opened = model.new_bool_var("")
        for n in range(block, most):
            held = model.new_bool_var("")
            model.add(numbers[n] == block).only_enforce_if(held)
            model.add(numbers[n] != block).only_enforce_if(held.negated())
            model.add_implication(held, opened)
        used.append(opened)
    model.minimize(sum(used))
    return _solved(model)


def fewest_slit_blocks(
    extent: tuple[int, int, int], items: Sequence[tuple[int, int, int]], turning: bool, kerf: int
) -> int:
    """Fewest blocks slit first: level cuts through the block, each sheet then cut in three stages.

    By assignment: items to strips, strips to sections, sections to sheets of one thickness, sheets to blocks.
    Each of them is named after its first item. The sections of a sheet follow one another along x or along y;
    what is longer or wider than its pieces is trimmed.
    """
    model = cp_model.CpModel()
    numbers = range(len(items))
    length, width, height = extent
    ample = max(length, width) + kerf

    def groups() -> list[list[cp_model.IntVar]]:
        """One group for each item; it is named after an item that is not listed later."""
        member = [[model.new_bool_var("") for _ in range(n + 1)] for n in numbers]
        for n in numbers:
            model.add_exactly_one(member[n])
            for g in range(n):
                model.add_implication(member[n][g], member[g][g])
        return member

    strips, sections, sheets, blocks = levels = [groups() for _ in range(4)]
    for inner, outer in pairwise(levels):
        for n in numbers:
            for g in range(n):
                # Those who share the inner group share the outer one.
                for name in range(n + 1):
                    with_it = outer[g][name] if name <= g else 0
                    model.add(outer[n][name] == with_it).only_enforce_if(inner[n][g])
    along_y = [model.new_bool_var("") for _ in numbers]
    along, across = [], []
    for n, (a, b, high) in enumerate(items):
        if turning:
            first, second = _sides(model, (a, b), turning)
        else:
            first, second = a + (b - a) * along_y[n], b + (a - b) * along_y[n]
        along.append(first)
        across.append(second)
        for s in range(n):
            model.add(along_y[n] == along_y[s]).only_enforce_if(sheets[n][s])
            if items[s][2] != high:
                model.add(sheets[n][s] == 0)

    def share(size: cp_model.LinearExprT, *held: cp_model.IntVar) -> cp_model.IntVar:
        """At least `size` with its cut where all of `held` are true; it may be 0 otherwise."""
        taken = model.new_int_var(0, 2 * ample, "")
        model.add(taken >= size + kerf).only_enforce_if(*held)
        return taken

    wide = [model.new_int_var(0, ample, "") for _ in numbers]
    long = [model.new_int_var(0, ample, "") for _ in numbers]
    for n in numbers:
        for t in range(n + 1):
            model.add(wide[t] >= across[n]).only_enforce_if(strips[n][t])
    for t in numbers:
        filled = sum(share(along[n], strips[n][t]) for n in range(t, len(items)))
        for k in range(t + 1):
            model.add(filled <= long[k] + kerf).only_enforce_if(sections[t][k])
    for k in numbers:
        beside = sum(share(wide[t], strips[t][t], sections[t][k]) for t in range(k, len(items)))
        model.add(beside <= width + (length - width) * along_y[k] + kerf)
    for s in numbers:
        behind = sum(share(long[k], sections[k][k], sheets[k][s]) for k in range(s, len(items)))
        model.add(behind <= length + (width - length) * along_y[s] + kerf)
    for b in numbers:
        piled = 0
        for s in range(b, len(items)):
            opened = model.new_bool_var("")
            model.add_bool_or(opened, sheets[s][s].negated(), blocks[s][b].negated())
            piled += (items[s][2] + kerf) * opened
        model.add(piled <= height + kerf)
    model.minimize(sum(blocks[b][b] for b in numbers))
    return _solved(model)
