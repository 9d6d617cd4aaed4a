"""Which widths to buy, where the answer can be reckoned by hand. Prices and sizes are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from nesting.buying.choices import advice, choices_csv, choices_table, choices_values
from nesting.buying.offers import Offer, as_bought_now, read_offers
from nesting.buying.widths import MOST_SETS, compare, set_problem
from nesting.catalogue import Range
from nesting.errors import InputError, NestingError
from nesting.model import Demand, Panel
from nesting.packing import solve, verify
from nesting.planning import Budget

BUDGET = Budget(effort=2.0)


def pieces(material: str, *wanted: tuple[str, float, float, int], thickness: float | None = None):
    return tuple(
        Demand(
            key=key,
            panel=Panel(
                code=key, name=key, material=material, length=length, width=width, thickness=thickness
            ),
            model="M",
            size="S",
            quantity=quantity,
        )
        for key, length, width, quantity in wanted
    )


WIDE_AND_NARROW = pieces("cloth", ("wide", 1000.0, 1000.0, 4), ("narrow", 1000.0, 600.0, 3))


def offered(tmp_path: Path, range_: Range, text: str, key: str = "cloth") -> tuple[Offer, ...]:
    path = tmp_path / "offer.csv"
    path.write_text(text, encoding="utf-8")
    return read_offers(path, range_.materials[key])


def test_two_widths_beat_one_where_pieces_ask_for_them(tmp_path: Path, small_range: Range) -> None:
    """4 wide and 3 narrow pieces of 1 m: alone 7 m at 10; at 600 mm the narrow ones cost 15, not 30."""
    offers = offered(tmp_path, small_range, "width,price\n1000,10\n600,5\n1200,13\n")
    found = compare(offers, WIDE_AND_NARROW, sizes=2, budget=BUDGET)
    first = found.choices[0]
    assert first.offers == ("1000 mm", "600 mm")
    assert first.cost == pytest.approx(55.0)
    assert first.used == {"1000 mm": pytest.approx(4.0), "600 mm": pytest.approx(3.0)}
    assert first.waste == pytest.approx(0.0)
    one = found.best(1)
    assert one is not None
    assert (one.offers, one.cost) == (("1000 mm",), pytest.approx(70.0))
    narrow = next(choice for choice in found.choices if choice.offers == ("600 mm",))
    assert narrow.missing == 4
    assert found.choices[-1] is narrow
    assert advice(found, small_range.materials["cloth"], "EUR")[1] == (
        "Two widths: 1000 mm + 600 mm, 55.00 EUR. It saves 15.00 EUR (21.4 %) against the best with one "
        "width less."
    )


def test_a_set_never_costs_more_than_its_parts(tmp_path: Path, small_range: Range) -> None:
    """Whatever little effort is spent; and no cost lies below its proven bound."""
    offers = offered(tmp_path, small_range, "width,price\n1000,10\n1300,12\n1700,19\n2100,20\n")
    demands = pieces(
        "cloth",
        ("a", 870.0, 640.0, 30),
        ("b", 610.0, 430.0, 44),
        ("c", 1210.0, 980.0, 12),
        ("d", 300.0, 210.0, 70),
    )
    found = compare(offers, demands, sizes=3, budget=Budget(effort=0.5))
    costs = {frozenset(choice.offers): choice.cost for choice in found.choices}
    assert len(costs) == 4 + 6 + 4
    for names, cost in costs.items():
        assert all(cost <= other + 1e-9 for part, other in costs.items() if part < names)
    assert all(choice.bound <= choice.cost + 1e-9 for choice in found.choices)


def test_blocks_and_sheets_of_several_sizes(tmp_path: Path, small_range: Range) -> None:
    """30 slabs of 1000 x 1000 x 100: twenty to a block of 2 m3 at 100 a m3, ten to one of 1 m3 at 120.

    Two large ones cost 400, three small ones 360, and one of each 320.
    """
    text = "length,width,height,price,name\n2000,1000,1000,100,large\n1000,1000,1000,120,small\n"
    offers = offered(tmp_path, small_range, text, "foam")
    slabs = pieces("foam", ("slab", 1000.0, 1000.0, 30), thickness=100.0)
    found = compare(offers, slabs, budget=BUDGET)
    assert {choice.offers: round(choice.cost, 6) for choice in found.choices} == {
        ("large", "small"): 320.0,
        ("small",): 360.0,
        ("large",): 400.0,
    }
    assert found.choices[0].used == {"large": 1.0, "small": 1.0}
    sheets = offered(tmp_path, small_range, "length;width;price\n2000;2000;16\n1 m;1 m;3.9\n", "board")
    boards = pieces("board", ("b", 1000.0, 1000.0, 5))
    assert compare(sheets, boards, budget=BUDGET).choices[0].cost == pytest.approx(19.5)


def test_what_is_bought_now_is_compared(tmp_path: Path, small_range: Range) -> None:
    """Planned once where it is on offer as well, and never part of a set where it is not."""
    cloth = small_range.materials["cloth"]
    demands = pieces("cloth", ("half", 1000.0, 500.0, 8))
    offers = offered(tmp_path, small_range, "width,price\n1500,14\n")
    found = compare(offers, demands, now=as_bought_now(cloth), budget=BUDGET)
    assert found.now is not None
    assert found.now.cost == pytest.approx(40.0)
    assert [choice.offers for choice in found.choices] == [("1500 mm",)]
    assert found.choices[0].cost == pytest.approx(42.0)
    assert "It costs 2.00 EUR (5.0 %) more than what is bought now." in advice(found, cloth, "EUR")[0]
    offers = offered(tmp_path, small_range, "width,price\n1500,14\n1000,10\n")
    again = compare(offers, demands, now=as_bought_now(cloth), budget=BUDGET)
    assert again.now == next(choice for choice in again.choices if choice.offers == ("1000 mm",))
    rows = choices_table(again, cloth, "EUR")[1]
    assert rows[-1][0] == "as bought now: 1000 mm"
    assert choices_csv(again, cloth, "EUR").splitlines()[0].startswith("sizes,used m,cost EUR")
    # Six pieces on 2 m of the wide one, two on 1 m of the narrow one: 28 + 10.
    assert choices_values(again, cloth, "EUR")["choices"][0]["cost EUR"] == 38.0


def test_every_problem_of_a_set_is_a_true_one(tmp_path: Path, small_range: Range) -> None:
    """Answers pass the independent check, with the price of every width."""
    offers = offered(tmp_path, small_range, "width,price\n1000,10\n600,5\n")
    problem = set_problem(offers, WIDE_AND_NARROW)
    answer = solve(problem, effort=1.0, time_limit=None)
    verify(problem, answer)
    assert answer.value == pytest.approx(55.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("width,price\n1000,0\n", ["row 2, price", "above 0"]),
        ("width,price\n,4\n", ["row 2, width", "nothing"]),
        ("width,price\nwide,4\n", ["row 2, width", "'wide'"]),
        ("width,price\n1.4,4\n", ["row 2, width", "from 10 mm to 10000 mm"]),
        ("width,price\n1000,4\n1000,5\n", ["row 3", "its own name"]),
        ("width\n1000\n", ["a column 'price'"]),
    ],
)
def test_faults_in_an_offer_are_told(tmp_path: Path, small_range: Range, text: str, words: list[str]) -> None:
    with pytest.raises(InputError) as told:
        offered(tmp_path, small_range, text)
    for word in words:
        assert word in str(told.value)


def test_too_many_sets_are_refused(tmp_path: Path, small_range: Range) -> None:
    lines = "".join(f"{1000 + at},10\n" for at in range(20))
    offers = offered(tmp_path, small_range, f"width,price\n{lines}")
    with pytest.raises(NestingError, match=rf"210 sets.*at most {MOST_SETS}"):
        compare(offers, WIDE_AND_NARROW, sizes=2)
