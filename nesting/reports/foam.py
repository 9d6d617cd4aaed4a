"""What only foam has in the summary: its account in m3, kg and money."""

from __future__ import annotations

from typing import Any

from nesting.measures import amount
from nesting.model import MaterialPlan
from nesting.sawyield import COST_RULE, FoamYield, SawYield, foam_yield

__all__ = ["foam_account", "foam_money", "foam_of"]


def foam_of(part: MaterialPlan) -> FoamYield | None:
    """The account of a foam; None for other materials, and where blocks were laid without cuts."""
    if part.material.kind != "block" or not all(layout.cuts for layout in part.layouts):
        return None
    return foam_yield(part)


def foam_money(found: FoamYield | None, currency: str) -> dict[str, Any]:
    """What only foam has, empty for other materials; the credit for rebond is not in the net cost."""
    heavy = amount(0.0, "kg")[1]
    words = (
        f"worth of rests kept {currency}",
        f"net cost {currency}",
        f"rebond clean {heavy}",
        f"rebond skins {heavy}",
        f"rebond credit {currency}",
    )
    if found is None:
        return dict.fromkeys(words)
    clean, skins = (amount(mass, "kg")[0] for mass in found.rebond)
    figures = (found.rests, found.net, clean, skins, found.credit)
    return {word: round(figure, 2) for word, figure in zip(words, figures, strict=True)}


def foam_account(found: FoamYield, currency: str) -> dict[str, Any]:
    """What becomes of each block, and what layers and beds cost."""

    def volumes(part: SawYield) -> dict[str, Any]:
        return {
            "block m3": round(part.raw, 6),
            "pieces m3": round(part.pieces, 6),
            "rests kept m3": round(part.remnants, 6),
            "clean scrap m3": round(part.scrap, 6),
            "skins m3": round(part.skins, 6),
            "saw cuts m3": round(part.dust, 6),
            "yield %": round(100.0 * part.shares[0], 2) if part.raw else 0.0,
        }

    return {
        "material": found.material.key,
        "blocks": [
            {
                "layout": each.layout,
                "name": each.name,
                "size": each.block.size,
                "from the shelf": list(each.block.pieces),
                "blocks": each.repeats,
                **volumes(each.volumes),
                f"cost {currency}": round(each.cost, 2),
                f"worth of rests kept {currency}": round(each.worth, 2),
                f"rebond credit {currency}": round(each.credit, 2),
            }
            for each in found.blocks
        ],
        "all": volumes(found.volumes),
        "cost rule": COST_RULE,
        "layers": [
            {
                "piece": layer.demand.key,
                "per bed": layer.demand.panel.pieces,
                "m3": round(layer.volume, 6),
                "kg": round(found.mass(layer.volume), 3),
                f"cost {currency}": round(layer.cost, 4),
            }
            for layer in found.layers
        ],
        "beds": [
            {
                "model": bed.model,
                "size": bed.size,
                "m3": round(bed.volume, 6),
                "kg": round(found.mass(bed.volume), 3),
                f"cost {currency}": round(bed.cost, 4),
            }
            for bed in found.beds
        ],
    }
