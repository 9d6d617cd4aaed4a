"""``nesting stock``: the ledger of rolls, sheets, blocks and remnants."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from nesting.cli.options import JsonOption, LedgerOption, UnitsOption, WhoOption

if TYPE_CHECKING:
    from nesting.catalogue import Range
    from nesting.stock.ledger import Ledger
    from nesting.stock.records import Held, State

__all__ = ["stock"]

stock = typer.Typer(
    name="stock",
    help="Keep the ledger of rolls, sheets, blocks and remnants: take in, correct, write off, list.",
    no_args_is_help=True,
)


class StateChoice(StrEnum):
    """States that can be asked for."""

    FREE = "free"
    RESERVED = "reserved"
    USED_UP = "used up"
    WRITTEN_OFF = "written off"
    ALL = "all"


IdArgument: TypeAlias = Annotated[str, typer.Argument(metavar="ID", help="Id of the piece.")]
IdsArgument: TypeAlias = Annotated[
    list[str] | None, typer.Argument(metavar="[ID]...", help="Ids of the pieces.")
]
WhyOption: TypeAlias = Annotated[str, typer.Option("--why", help="The reason, kept in the history.")]
RangeOption: TypeAlias = Annotated[
    Path | None, typer.Option("--range", help="Range file (TOML): names of materials, checks of sizes.")
]
MaterialOption: TypeAlias = Annotated[
    str | None, typer.Option("--material", "-m", help="Only this material, by its key.")
]
StateOption: TypeAlias = Annotated[
    list[StateChoice] | None,
    typer.Option("--state", "-s", help="Pieces in this state; may be repeated. Default: what is there."),
]
LengthOption: TypeAlias = Annotated[
    str | None, typer.Option(help="Measured length, mm or with a unit: '48.5 m'.")
]
WidthOption: TypeAlias = Annotated[
    str | None, typer.Option(help="Measured width, mm or with a unit; of rolls the least usable one.")
]
HeightOption: TypeAlias = Annotated[str | None, typer.Option(help="Measured height of a block, mm.")]
LotOption: TypeAlias = Annotated[str | None, typer.Option(help="Dye lot, shade or batch.")]
PlaceOption: TypeAlias = Annotated[str | None, typer.Option(help="Where it stands.")]
FlawsOption: TypeAlias = Annotated[
    str | None, typer.Option(help="Flaws of a roll: '12.5 m - 12.6 m; 20000-20300 x 0-400'.")
]


@stock.command("list")
def list_(
    material: MaterialOption = None,
    state: StateOption = None,
    plan: Annotated[str | None, typer.Option(help="Only what is reserved for this plan.")] = None,
    totals: Annotated[bool, typer.Option("--totals", help="How much there is of each material.")] = False,
    ledger: LedgerOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """List the pieces that are there, or those in other states.

    Example: nesting stock list --material quilt-classic --state free
    """
    from nesting.cli.console import print_json, print_table
    from nesting.stock.views import piece_table, piece_values, total_table, total_values

    with _opened(ledger, units) as opened:
        if material is not None:
            material = opened.known_material(material)
        pieces = opened.pieces(material=material, states=_states(state), plan=plan)
        if json:
            print_json(total_values(pieces) if totals else [piece_values(held) for held in pieces])
            return
        count = f"{len(pieces)} piece" + ("s" if len(pieces) != 1 else "")
        table = total_table(pieces) if totals else piece_table(pieces)
        print_table(f"Stock in {opened.store.name}: {count}", *table)


@stock.command("take-in")
def take_in(
    file: Annotated[
        Path | None, typer.Option("--from", metavar="FILE", help="Stock list (CSV or XLSX) to take in.")
    ] = None,
    id_: Annotated[str | None, typer.Option("--id", help="Id of the piece; made up when left out.")] = None,
    material: Annotated[
        str | None, typer.Option("--material", "-m", help="Material, by key or name.")
    ] = None,
    kind: Annotated[str | None, typer.Option(help="roll, sheet or block, where no range tells.")] = None,
    length: LengthOption = None,
    width: WidthOption = None,
    height: HeightOption = None,
    quantity: Annotated[int, typer.Option(min=1, help="How many alike; ids get -1, -2 and so on.")] = 1,
    remnant: Annotated[bool, typer.Option("--remnant", help="It is a rest of earlier cutting.")] = False,
    lot: LotOption = None,
    flaws: FlawsOption = None,
    place: PlaceOption = None,
    why: WhyOption = "",
    range_file: RangeOption = None,
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Put pieces on the shelf: one, several alike, or a whole list. Begins a ledger where there is none.

    Example: nesting stock take-in --range range.toml -m quilt-classic --length "48.5 m" --width 2190 --lot 7
    """
    from nesting.measures import shown_for
    from nesting.stock.ledger import remembered
    from nesting.stock.listfile import listed_from, read_listed

    values = {
        "id": id_,
        "material": material,
        "kind": kind,
        "length": length,
        "width": width,
        "height": height,
        "lot": lot,
        "flaws": flaws,
        "place": place,
    }
    range_ = _range(range_file)
    if file is not None:
        given = [f"--{name}" for name, value in values.items() if value is not None]
        if given or remnant or quantity != 1:
            raise typer.BadParameter(f"give either --from or single values ({', '.join(given) or '...'}).")
    with shown_for(remembered(ledger)):
        if file is not None:
            listed = read_listed(file, range_)
        else:
            listed = listed_from({**values, "quantity": quantity, "remnant": remnant}, range_)
    with _opened(ledger, units, who=who, create=True, range_=range_) as opened:
        name = str(file) if file else ""
        workshop = range_.workshop if range_ else None
        taken = opened.take_in(listed, file=name, why=why, workshop=workshop)
        _tell(f"Taken in, {opened.store.name}", taken, json=json)


@stock.command()
def correct(
    id_: IdArgument,
    why: WhyOption,
    length: LengthOption = None,
    width: WidthOption = None,
    height: HeightOption = None,
    lot: LotOption = None,
    flaws: Annotated[
        str | None, typer.Option(help="All flaws of the roll as they are now; '' for none.")
    ] = None,
    place: PlaceOption = None,
    remnant: Annotated[
        bool | None, typer.Option("--remnant/--whole", help="Whether it is a rest of earlier cutting.")
    ] = None,
    range_file: RangeOption = None,
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Put right what the ledger says of a piece, and say why.

    Example: nesting stock correct R-0001 --width 2185 --why "measured at both ends"
    """
    from nesting.stock.correction import correction_from

    values = {"length": length, "width": width, "height": height, "lot": lot, "flaws": flaws, "place": place}
    with _opened(ledger, units, who=who) as opened:
        correction = correction_from(values, remnant=remnant)
        held = opened.correct(id_, correction, why, range_=_range(range_file))
        _tell("Corrected", [held], json=json)
        if held.plan and not json:
            typer.echo(f"Mind that plan {held.plan} was made for what the ledger said before.", err=True)


@stock.command("write-off")
def write_off(
    id_: IdArgument,
    why: WhyOption,
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Take a piece off the shelf that is spoilt, lost, sold or given away, and say why.

    Example: nesting stock write-off R-0007 --why "water damage"
    """

    with _opened(ledger, units, who=who) as opened:
        _tell("Written off", [opened.write_off(id_, why)], json=json)


@stock.command()
def use(
    id_: IdArgument,
    length: Annotated[str | None, typer.Option(help="Length cut off a roll, mm or with a unit.")] = None,
    whole: Annotated[bool, typer.Option("--all", help="All that is left of it.")] = False,
    least: Annotated[str, typer.Option(help="Shortest rest of a roll that is kept, mm.")] = "0",
    why: WhyOption = "",
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Use a piece, or a length of a roll, for something that no plan asked for.

    Example: nesting stock use R-0001 --length "1.2 m" --why "sample for a customer"
    """
    from nesting.stock.measures import named_length

    if (length is None) == (not whole):
        raise typer.BadParameter("say either --length or --all.")
    with _opened(ledger, units, who=who) as opened:
        cut = None if length is None else named_length("length", length)
        held = opened.use(id_, length=cut, least=named_length("least", least, zero=True), why=why)
        _tell("Used", [held], json=json)


@stock.command()
def reserve(
    ids: Annotated[list[str], typer.Argument(metavar="ID...", help="Ids of the pieces.")],
    plan: Annotated[str, typer.Option(help="Number of the plan, as printed on its maps.")],
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Keep pieces for a plan: no other plan gets them.

    Example: nesting stock reserve R-0001 R-0002 --plan 3f9a11c2
    """

    with _opened(ledger, units, who=who) as opened:
        _tell("Reserved", opened.reserve(ids, plan), json=json)


@stock.command()
def release(
    ids: IdsArgument = None,
    plan: Annotated[str | None, typer.Option(help="All that is reserved for this plan.")] = None,
    why: WhyOption = "",
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Let other plans have pieces again.

    Example: nesting stock release --plan 3f9a11c2
    """

    if not ids and plan is None:
        raise typer.BadParameter("say which: ids, or --plan.")
    with _opened(ledger, units, who=who) as opened:
        _tell("Released", opened.release(ids or (), plan=plan, why=why), json=json)


@stock.command()
def show(
    id_: IdArgument, ledger: LedgerOption = None, units: UnitsOption = None, json: JsonOption = False
) -> None:
    """Show a piece and everything that happened to it.

    Example: nesting stock show R-0001
    """
    from nesting.cli.console import print_json, print_table
    from nesting.stock.views import entry_values, history_table, piece_table, piece_values

    with _opened(ledger, units) as opened:
        entries = opened.history(id_)
        found = opened.pieces(ids=[id_])
        if json:
            print_json(
                {
                    "piece": piece_values(found[0]) if found else None,
                    "history": [entry_values(entry) for entry in entries],
                }
            )
            return
        if found:
            print_table(found[0].id, *piece_table(found))
        else:
            typer.echo(f"{entries[0].piece} is not in the ledger any more.")
        print_table("What happened to it", *history_table(entries))


@stock.command()
def export(
    output: Annotated[Path, typer.Option("--output", "-o", metavar="FILE", help="CSV file to write.")],
    material: MaterialOption = None,
    state: StateOption = None,
    ledger: LedgerOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Write what is there as CSV, which take-in and planning read.

    Example: nesting stock export --state free -o stock.csv
    """
    from nesting.cli.console import print_json
    from nesting.stock.views import write_stock_list

    with _opened(ledger, units) as opened:
        if material is not None:
            material = opened.known_material(material)
        pieces = opened.pieces(material=material, states=_states(state))
    write_stock_list(pieces, output)
    if json:
        print_json({"file": output, "pieces": len(pieces)})
    else:
        typer.echo(f"{len(pieces)} pieces written to {output}.")


@contextmanager
def _opened(
    where: str | None,
    units: str | None,
    *,
    who: str | None = None,
    create: bool = False,
    range_: Range | None = None,
) -> Iterator[Ledger]:
    """The ledger, with measures written as its people read them."""
    from nesting.measures import shown_for
    from nesting.stock.ledger import open_ledger

    with open_ledger(where, who=who, create=create) as opened:
        workshop = range_.workshop if range_ else opened.workshop()
        with shown_for(workshop.changed(units)):
            yield opened


def _states(chosen: list[StateChoice] | None) -> list[State]:
    from nesting.stock.records import STATES

    wanted = [str(one) for one in chosen or (StateChoice.FREE, StateChoice.RESERVED)]
    return [one for one in STATES if one in wanted or StateChoice.ALL in wanted]


def _range(path: Path | None) -> Range | None:
    from nesting.catalogue import load_range

    return load_range(path) if path else None


def _tell(title: str, pieces: list[Held] | tuple[Held, ...], *, json: bool) -> None:
    """Print what a command changed."""
    from nesting.cli.console import print_json, print_table
    from nesting.stock.views import piece_table, piece_values

    if json:
        print_json([piece_values(held) for held in pieces])
    else:
        print_table(title, *piece_table(pieces))
