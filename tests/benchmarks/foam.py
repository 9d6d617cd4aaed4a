"""Measure the block engine on weeks of a foam cutter: ``python tests/benchmarks/foam.py``.

The weeks are invented: a seeded generator draws slabs (cores, toppers, rails, supports), quantities and
block sizes with skins and kerf. Every answer is verified. The gap is to the proven bound of the answer
itself. Beside it stands what the plain practice opens: blocks of one product each, in columns of equal
slabs.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from weekly import head, options, row, run

from nesting.packing import Block, BlockProblem, Piece, solve
from nesting.packing.problem import Skins

WIDTHS = (800, 900, 1000, 1200, 1350, 1400, 1500, 1600, 1800)
LENGTHS = (1900, 1950, 2000, 2100)
THICKNESSES = (10, 20, 30, 40, 50, 60, 70, 80, 100, 120, 140, 160, 180)


def week(number: int, times: int = 1) -> BlockProblem:
    """The week of that number.

    3 to 25 slabs of 2 to 12 thicknesses, 50 to 3,000 pieces (times `times`), 1 to 4 block sizes.
    """
    rng = np.random.default_rng(number)
    sizes: list[tuple[int, int, int]] = []
    for _ in range(int(rng.integers(1, 5))):
        sizes.append(tuple(int(n) * 10 for n in rng.integers((190, 150, 90), (231, 221, 126))))  # type: ignore[arg-type]
    if all(length < 2150 or width < 1850 for length, width, _ in sizes):
        sizes[0] = (2200, 2060, sizes[0][2])  # one block takes every core
    skins = Skins(*(float(n) for n in rng.integers((10, 10, 10, 10, 15, 20), (20, 20, 25, 25, 25, 41))))
    thicknesses = rng.choice(THICKNESSES, int(rng.integers(2, 13)), replace=False).tolist()
    wanted = int(rng.integers(3, 26))
    slabs: dict[tuple[int, int, int], None] = {}
    while len(slabs) < wanted:
        long, wide = int(rng.choice(LENGTHS)), int(rng.choice(WIDTHS))
        thick = int(rng.choice(thicknesses))
        oversize = int(rng.choice((0, 5, 10)))
        kind = rng.random()
        if kind < 0.6:  # cores, toppers
            slabs[long + oversize, wide + oversize, thick] = None
        elif kind < 0.85:  # rails, sawn flat
            slabs[
                int(rng.choice((long, wide))) - 2 * int(rng.choice((80, 100, 120))),
                int(rng.choice((70, 80, 90, 100, 120))),
                thick,
            ] = None
        else:  # supports, pads
            side = int(rng.integers(20, 80)) * 10
            slabs[side, int(rng.integers(10, side // 10 + 1)) * 10, thick] = None
    shares = rng.lognormal(0.0, 0.7, len(slabs))
    total = np.exp(rng.uniform(np.log(50), np.log(3000)))
    quantities = np.maximum(1, np.round(shares / shares.sum() * total)).astype(int)
    pieces = tuple(
        Piece.slab(f"S{at}", *size, quantity=int(quantity) * times)
        for at, (size, quantity) in enumerate(zip(slabs, quantities, strict=True))
    )
    blocks = tuple(
        Block(f"K{at}", *size, cost=size[0] * size[1] * size[2] / 1e9) for at, size in enumerate(sizes)
    )
    return BlockProblem(blocks, pieces, kerf=float(rng.choice((0.5, 1.0, 1.5, 2.0))), trim=skins)


def one_product_per_block(problem: BlockProblem) -> float:
    """Cost of blocks when each holds columns of equal slabs of one product, in the better turn and block."""
    skins, kerfs = problem.skins, problem.kerfs
    total = 0.0
    for piece in problem.pieces:
        assert piece.thickness is not None
        costs = []
        for block in problem.blocks:
            along = block.length - skins.x0 - skins.x1 + kerfs.upright
            across = block.width - skins.y0 - skins.y1 + kerfs.upright
            layers = (block.height - skins.z0 - skins.z1 + kerfs.level) // (piece.thickness + kerfs.level)
            held = max(
                (along // (long + kerfs.upright)) * (across // (wide + kerfs.upright)) * layers
                for long, wide in map(piece.box, piece.turns)
            )
            if held:
                costs.append(-(-piece.quantity // int(held)) * block.cost)
        total += min(costs)
    return total


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the weeks asked for."""
    parser = options("Measure the block engine on invented weeks of foam.", budget=20.0)
    chosen = parser.parse_args(arguments)
    solve(week(0), time_limit=None, effort=5)  # compile the kernels, so that no measured week pays for it
    print(head("blocks", "one product per block"), flush=True)
    outcomes = []
    for number in range(chosen.first, chosen.first + chosen.weeks):
        problem = week(number, chosen.times)
        outcomes.append(run(problem, one_product_per_block(problem), chosen))
        if chosen.each:
            last = outcomes[-1]
            print(
                f"    week {number}: {last.value:.1f} m3 in {last.layouts} blocks "
                f"(bound {last.bound:.1f} m3, gap {100 * last.gap:.2f} %, {last.seconds:.1f} s; "
                f"{len(problem.pieces)} slabs, "
                f"{len(problem.blocks)} sizes of block, plain {last.plain:.1f} m3)",
                flush=True,
            )
    for title, least, most in (("under 5", 0, 5), ("5 to 19", 5, 20), ("20 and more", 20, 10**9)):
        print(row(title, [outcome for outcome in outcomes if least <= outcome.layouts < most]))


if __name__ == "__main__":
    main()
