"""Command `compute`: one formula by hand."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.cli import output

if TYPE_CHECKING:
    from pipeline.compute import Computed


@click.command()
@click.argument("property_name", metavar="PROPERTY", required=False)
@click.argument("inputs", metavar="[NAME=VALUE]…", nargs=-1)
@click.option(
    "-u",
    "--u",
    "--uncertainty",
    "doubts",
    metavar="NAME=U",
    multiple=True,
    help="Standard uncertainty of an input, in its unit; may be given several times.",
)
@click.option(
    "--rounding",
    type=click.Choice(["half_even", "half_up"]),
    default="half_even",
    show_default=True,
    help="What becomes of an exact half: ASTM E29, or conventional.",
)
@click.option("--json", "as_json", is_flag=True, help="Result as JSON; the figure under the key `value`.")
@click.pass_obj
def command(
    folder: Path,
    property_name: str | None,
    inputs: tuple[str, ...],
    doubts: tuple[str, ...],
    rounding: str,
    as_json: bool,
) -> None:
    """Compute one PROPERTY from values given by hand: value, unit, equation, standard.

    Without a property, lists them with their inputs. Percentages are given as percentages (pb=5.3). In a workspace the
    checks hold the limits of its mixledger.toml.

    \b
    Examples:
      mixledger compute air_voids gmb=2.442 gmm=2.535
      mixledger compute vma gmb=2.442 ps=94.7 gsb=2.703
      mixledger compute gmb mass_dry=1195.2 mass_submerged=695.2 mass_ssd=1196.9
      mixledger compute gmb mass_dry=1205.6 mass_ssd=1208.2 mass_submerged=700.4 --u mass_dry=0.08 --u mass_ssd=0.5
    """
    from pipeline import settings
    from pipeline.compute import compute, list_properties
    from pipeline.rounding import Rule

    if property_name is None:
        _show_list(list_properties(), as_json)
        return
    done = compute(
        property_name,
        dict(_pair(given) for given in inputs),
        rule=Rule(rounding),
        uncertainties=dict(_pair(given) for given in doubts),
        limits=settings.at(folder).results.limits,
    )
    if as_json:
        output.as_json(done.as_dict())
        return
    click.echo("\n".join(_lines(done)))


def _lines(done: "Computed") -> Iterator[str]:
    from pipeline.rounding import Rule

    unit = f" {done.unit}" if done.unit else ""
    reported = f"reported: {done.text}{unit}, with {Rule(done.rule).words}"
    yield f"{done.symbol} = {done.shown}{unit}   ({reported})   {done.title}"
    for line in done.steps:
        yield f"  {line}"
    yield f"  {done.standard}{', ' + done.section if done.section else ''}"
    if done.uncertainty is not None:
        yield f"  standard uncertainty {done.uncertainty_shown}{unit} (k = 1), of the inputs given one"
    for name, u, sensitivity, part in done.budget:
        yield f"    {name}: u {u:g}, sensitivity {sensitivity:.5g}, contributes {part:.4g}"
    for caution in done.flags:
        yield f"  doubtful: {caution}"


def _show_list(properties: list[dict[str, object]], as_json: bool) -> None:
    if as_json:
        output.as_json(properties)
        return
    headings = ["property", "symbol", "unit", "inputs", "standard"]
    output.table(headings, [[each[heading] for heading in headings] for each in properties])


def _pair(given: str) -> tuple[str, float]:
    name, equals, text = given.partition("=")
    try:
        return name.strip(), float(text)
    except ValueError:
        wanted = "NAME=VALUE, for instance gmb=2.442" if not equals else "a number with a decimal point"
        raise click.UsageError(f"'{given}': expected {wanted}") from None
