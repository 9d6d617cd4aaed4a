"""What a buyer must be told of a material, in a sentence each; amounts as the workshop counts them."""

from __future__ import annotations

from dataclasses import replace

from nesting.buying.ordering import order_amount
from nesting.buying.week import LEDGER, BuyingPlan, Purchase
from nesting.measures import plain, shown_amount
from nesting.model import BlockMaterial, Material, RollMaterial

__all__ = ["assumptions", "counted_in", "items_word", "notes", "shown"]


def items_word(material: Material, count: float = 2.0) -> str:
    """``"roll"`` or ``"rolls"``, and so on."""
    return material.kind if count == 1 else f"{material.kind}s"


def counted_in(material: Material) -> str:
    """The metric unit of `nesting.measures` in which a material is counted; "" for sheets and blocks."""
    return "m" if isinstance(material, RollMaterial) else ""


def shown(material: Material, amount: float) -> str:
    """An amount in words: ``"620.6 m"``, ``"12 sheets"``."""
    if isinstance(material, RollMaterial):
        return shown_amount(amount, "m")
    return f"{plain(amount, 2)} {items_word(material, round(amount, 2))}"


def notes(plan: BuyingPlan, purchase: Purchase) -> list[str]:
    """The notes on one material, the most urgent first."""
    weeks, need, supply = plan.outlook.weeks, purchase.need, purchase.supply
    terms, orders, material = supply.terms, purchase.schedule, purchase.material
    found = []
    if missing := sum(week.missing for week in need.weeks):
        found.append(f"{missing} pieces cannot be cut from it: plan a week to see which.")
    if orders.short is not None:
        lacking = shown(material, -min(orders.ends))
        found.append(
            f"Short from {weeks.label(orders.short)}, by up to {lacking}: an order placed now is there in "
            f"{weeks.label(1 + terms.lead)}. "
            + ("Ask for an earlier delivery." if _told(purchase) else "Nothing is told of what is on hand.")
        )
    if orders.now and order_amount(orders.net, replace(terms, least=0.0)) < orders.now.amount:
        found.append(f"Raised to the minimum order: {shown(material, orders.net)} would do.")
    if purchase.saved > 0:
        found.append(f"Rests save {shown(material, purchase.saved)} in the weeks covered.")
    if terms.cover > weeks.count:
        found.append(
            f"An order covers {terms.cover} weeks, and only {weeks.count} are known: give more weeks."
        )
    for arrival in supply.arrivals:
        label = weeks.label(arrival.week)
        if arrival.week > weeks.count:
            found.append(f"The delivery of {label} comes after these weeks: not counted.")
        if arrival.week < 1:
            found.append(f"The delivery of {label} is late: taken as coming in {weeks.label(1)}.")
    if isinstance(material, BlockMaterial) and len(material.sizes) > 1:
        names = ", ".join(size.name for size in material.sizes)
        found.append(
            f"Bought as {names}: counted in blocks of {material.sizes[0].name}, by volume. A plan of the "
            "week says which."
        )
    if not supply.told:
        found.append(f"Not in the supply table: taken as {terms.lead} week to deliver, ordered every week.")
    return found


def _told(purchase: Purchase) -> bool:
    """Whether anything is known of what is there or on its way."""
    return bool(purchase.on_hand or purchase.held or any(purchase.due))


def assumptions(plan: BuyingPlan) -> list[str]:
    """What the figures rest on, for whoever has to trust them."""
    weeks = plan.outlook.weeks
    label = weeks.label(1)
    found = [
        "Requirement: what a week's cutting takes, all new. Nested: the week was planned, piece by piece, "
        "and the plan checked. Estimated: area of its pieces x the yield measured on the nested weeks.",
        "Rolls count in length taken, a roll end long enough to keep staying on hand; sheets and blocks "
        "count as whole ones opened, in estimated weeks without what rests save. Of long blocks what is "
        "taken counts.",
        "Material is there at the beginning of the week in which beds are due, and an order is placed at "
        f"the beginning of a week. Week 1 is {label}, from {weeks.first_day(1)}.",
        "To order = requirement of the weeks covered (delivery time + weeks to the next order) + safety "
        "stock - on hand - on order in time - what rests save, at least the minimum order, rounded up to "
        "what is sold.",
        "Rests count only where a planned part fits them, and only for what the plan of the week saves "
        "with them. Rests of sheets and blocks that a week leaves are there for the next week.",
        "Whole rolls on the shelf count by their length without flaws, narrower ones by their share of the "
        "width.",
        "What comes after the last week is not known and not covered: the last orders are small for that "
        "reason.",
        "Losses are those of the nested weeks: faults in new cloth, splices and second-quality recuts are "
        "not in them. Raise the safety stock by what you find.",
    ]
    if plan.outlook.uncertain:
        found.append(
            "Safety stock: demand of each model, size and week is drawn from a normal distribution, "
            "independent of the others, and converted by the measured yield. Where models rise and fall "
            "together, it is too small. Changed weeks and service levels scale it by the root of the weeks "
            "and the normal quantile."
        )
    else:
        found.append(
            "Demand is taken as certain: there is no safety stock but what the supply table fixes. "
            "Give a spread to have one reckoned."
        )
    if plan.stock == LEDGER:
        found.append(
            "What is reserved in the ledger is not counted: leave out orders that are planned and reserved."
        )
    found.append("One product's visible parts come from one dye lot: order up to a lot where that is close.")
    return [*found, *plan.outlook.notes]
