"""Command `sampling`: random sampling plans, drawn from a seed, stored and shown again."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import workspace
from pipeline.cli import output

if TYPE_CHECKING:
    import polars as pl

_CAUTION = "Keep the places from the contractor until they are sampled."


@click.group()
def command() -> None:
    """Draw random sampling places for a lot (ASTM D3665), store them, and show them again.

    \b
    Examples:
      mixledger -w lab sampling draw FALLOW FALLOW-S12 5 --tonnage 3500 --sublots 5
      mixledger -w lab sampling show
    """


@command.command()
@click.argument("project", metavar="PROJECT")
@click.argument("mix", metavar="MIX")
@click.argument("lot", metavar="LOT")
@click.option("--sublots", type=click.IntRange(1, 200), default=5, show_default=True, help="Places to draw, one each.")
@click.option("--tonnage", type=float, default=None, help="Tonnage of the lot: loose mix.")
@click.option("--from-tonnage", type=float, default=0.0, show_default=True, help="Tonnage at which the lot begins.")
@click.option("--length", type=float, default=None, help="Length of the lot in m: cores.")
@click.option("--from-station", type=float, default=0.0, show_default=True, help="Station at which it begins, m.")
@click.option("--width", type=float, default=3.6, show_default=True, help="Width of the mat, m.")
@click.option("--left", type=float, default=0.0, show_default=True, help="Offset of the left edge, m.")
@click.option("--edge", type=float, default=0.3, show_default=True, help="Strip left out at each edge, m.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=None, help="Seed; drawn where none is given.")
@click.option("--drawn-by", default=None, help="Who draws.")
@click.option("--redraw-of", default=None, help="Draw this one replaces; needs --reason.")
@click.option("--reason", default=None, help="Why it is drawn again.")
@click.option("--dry-run", is_flag=True, help="Show the places and store nothing.")
@click.pass_obj
def draw(folder: Path, /, project: str, mix: str, lot: str, dry_run: bool, **given: object) -> None:
    """Draw one place per sublot of LOT, and put the card into the inbox; the next run stores it.

    \b
    Example:
      mixledger -w lab sampling draw SEDGE SEDGE-S9 5 --length 800 --width 3.6 --sublots 5 --seed 417
    """
    from secrets import randbelow

    from pipeline.judge.sampling import GENERATOR
    from pipeline.sampling_card import card

    if (given["tonnage"] is None) == (given["length"] is None):
        raise click.UsageError("give either --tonnage (loose mix) or --length (cores)")
    if given["redraw_of"] and not given["reason"]:
        raise click.UsageError("a draw that replaces another needs its --reason")
    found = workspace.find(folder)
    seed = int(str(given["seed"])) if given["seed"] is not None else randbelow(2**32)
    places = _places(given, seed)
    name = f"{project}-{mix}-{lot}-{'cores' if given['length'] else 'tonnage'}-{seed}"
    head = {
        "draw": name,
        "project": project,
        "mix": mix,
        "lot": lot,
        "seed": seed,
        "generator": GENERATOR,
        **{key: str(given[key]) if given[key] else None for key in ("drawn_by", "redraw_of", "reason")},
    }
    output.frame_table(places)
    click.echo(f"draw {name}, seed {seed}, {GENERATOR}. {_CAUTION}")
    if not dry_run:
        safe = "".join(each if each.isalnum() or each in "-_." else "_" for each in name)
        target = found.inbox / f"sampling-{safe}.toml"
        target.write_text(card(head, datetime.now().replace(microsecond=0), places), encoding="utf-8")
        click.echo(f"written: {target}; the next run stores it")


def _places(given: dict[str, object], seed: int) -> "pl.DataFrame":
    from pipeline.judge import sampling

    count = int(str(given["sublots"]))
    numbers = {name: float(str(given[name] or 0)) for name in _NUMBERS}
    if given["tonnage"] is not None:
        return sampling.by_tonnage(sampling.numbers(seed, count), numbers["tonnage"], numbers["from_tonnage"])
    drawn = sampling.numbers(seed, 2 * count)
    return sampling.by_place(
        drawn, numbers["from_station"], numbers["length"], numbers["width"], numbers["edge"], numbers["left"]
    )


_NUMBERS = ("tonnage", "from_tonnage", "from_station", "length", "width", "edge", "left")


@command.command()
@click.argument("name", metavar="DRAW", required=False)
@click.option("--json", "as_json", is_flag=True, help="The places as JSON.")
@click.pass_obj
def show(folder: Path, name: str | None, as_json: bool) -> None:
    """Show the draws that are stored, or the places of one DRAW with its random numbers.

    \b
    Example:
      mixledger -w lab sampling show
    """
    from pipeline.judge.sampling import SamplingError
    from warehouse.read import connect
    from warehouse.sql import fetch

    columns = "place_no, place_kind, sublot, random_1, random_2, tonnage_t, station_m, offset_m"
    with connect(workspace.find(folder).root) as connection:
        draws = fetch(
            connection,
            "SELECT draw_id, project_id, mix_id, lot, count(*) AS places, any_value(seed) AS seed, "
            "max(issued_at) AS drawn, any_value(drawn_by) AS drawn_by, any_value(redraw_of) AS redraw_of, "
            "any_value(reason) AS reason FROM sampling_place WHERE valid_to_run IS NULL GROUP BY ALL "
            "ORDER BY project_id, mix_id, lot, drawn, draw_id",
        )
        rows = draws
        if name is not None:
            if name not in draws["draw_id"]:
                raise SamplingError(f"no draw '{name}' is stored; `mixledger sampling show` lists them")
            query = f"SELECT {columns} FROM sampling_place WHERE valid_to_run IS NULL AND draw_id = ? ORDER BY place_no"
            rows = fetch(connection, query, [name])
    if as_json:
        output.as_json(rows.to_dicts())
    elif rows.is_empty():
        click.echo("no draw is stored")
    else:
        output.frame_table(rows)
        click.echo(_CAUTION)
