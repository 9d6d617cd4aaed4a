"""How slabs of foam may be glued up: laminated from thinner slabs, or joined from pieces.

Joints of layers that lie on one another must not lie on one another. Layers that may have joints take
turns: those with odd numbers have theirs between the head end (or left side) and the middle, those with
even numbers between the middle and the foot end (or right side), each half of the least distance away from
the middle. So whatever pieces are taken for whichever copy, joints of neighbours are at least that distance
apart, and a layer turned end for end needs the same pieces. (Own reasoning; that joints are few, staggered,
away from shoulders, hips and edges and made of pieces of one grade and batch is common practice.)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypeAlias

from nesting.model import Glue
from nesting.panels.generator import PanelError
from nesting.panels.shaping import tenths

__all__ = ["Span", "joined", "laminated"]

Span: TypeAlias = tuple[float, float]

LAMINATION_CAUTION = "Follow the adhesive's data sheet and ventilate where you glue."
JOINT_CAUTION = (
    "Joints only with pieces of one grade and batch, and only where the product's fire approval allows them. "
    + LAMINATION_CAUTION
)

MOST_LAMINATIONS = 12
"""Most ways of laminating one slab; those with fewest layers are kept."""


def laminated(
    thickness: float, slabs: Sequence[float], most: int, oversize: float, *, only: bool, cost: float
) -> Glue:
    """The ways to laminate a thickness from slabs.

    Parameters
    ----------
    thickness
        Of the whole, mm.
    slabs
        Thicknesses that may be used, mm.
    most
        Most layers.
    oversize
        Share added to every thickness when it is cut.
    only
        Whether it must be laminated.
    cost
        Of gluing one layer to the next.

    Raises
    ------
    PanelError
        If no slabs add up to the thickness.
    """
    found: list[tuple[float, ...]] = []
    sizes = sorted({tenths(size) for size in slabs if size > 0}, reverse=True)

    def add(layers: tuple[float, ...], rest: float) -> None:
        if rest < 0.05:
            found.append(layers)
            return
        for size in sizes:
            if size <= rest + 0.05 and len(layers) < most and (not layers or size <= layers[-1]):
                add((*layers, size), rest - size)

    add((), tenths(thickness))
    several = sorted((layers for layers in found if len(layers) > 1), key=len)[:MOST_LAMINATIONS]
    if not several:
        raise PanelError(
            "laminate_from",
            tuple(slabs),
            f"slabs of which 2 to {most} add up to {thickness:g} mm",
            "Add a thickness, allow more layers, or take laminate_from out.",
        )
    layers = tuple(tuple(tenths(size * (1.0 + oversize)) for size in way) for way in several)
    shown = ", ".join("+".join(f"{size:g}" for size in way) for way in layers)
    note = f"{'Must' if only else 'May'} be laminated: {shown}. {LAMINATION_CAUTION}"
    return Glue(laminations=layers, whole=not only, cost=cost, note=note)


def joined(
    size: float,
    line: Literal["across", "along"],
    most: int,
    *,
    least: float,
    from_edge: float,
    apart: float,
    keep_clear: Sequence[Span],
    layer: int,
    cost: float,
) -> Glue:
    """Where joints may lie in a layer.

    Parameters
    ----------
    size
        Of the layer at right angles to the joints, mm: its length for joints across.
    line
        Joints ``"across"`` the bed are measured from the head end, joints ``"along"`` it from the left
        side.
    most
        Most joints.
    least
        Smallest piece, mm.
    from_edge
        No joint nearer to an edge, mm.
    apart
        Least distance from the joint of the layer above or below, mm.
    keep_clear
        From and to of stretches without joints, mm.
    layer
        Number of the layer among those with joints.
    cost
        Of one joint.

    Raises
    ------
    PanelError
        If a stretch ends before it begins, or no room is left for a joint.
    """
    edge = max(least, from_edge)
    spans = [(edge, (size - apart) / 2.0)] if layer % 2 else [((size + apart) / 2.0, size - edge)]
    for start, end in keep_clear:
        if not start < end:
            raise PanelError(
                "joint_keep_clear",
                [start, end],
                "pairs of from and to, the second larger",
                "Swap or correct the two numbers.",
            )
        spans = [part for low, high in spans for part in ((low, min(high, start)), (max(low, end), high))]
    spans = sorted({(tenths(low), tenths(high)) for low, high in spans if low <= high})
    if not spans:
        raise PanelError(
            "joint_from_edge",
            from_edge,
            f"values that leave room for a joint in {size:g} mm",
            "Lower joint_from_edge, least_piece or joint_apart, or free a stretch of joint_keep_clear.",
        )
    words = ", ".join(f"{low:g} to {high:g}" for low, high in spans)
    where = "the head end" if line == "across" else "the left side"
    note = f"May be glued up, joints {line} the bed {words} from {where}. {JOINT_CAUTION}"
    return Glue(line=line, joints=most, spans=tuple(spans), least=least, cost=cost, note=note)
