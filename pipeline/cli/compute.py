"""Command `compute`: one formula by hand."""

import click

from pipeline.cli import output


@click.command()
@click.argument("property_name", metavar="PROPERTY", required=False)
@click.argument("inputs", metavar="[NAME=VALUE]…", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Result as JSON; the figure under the key `value`.")
def command(property_name: str | None, inputs: tuple[str, ...], as_json: bool) -> None:
    """Compute one PROPERTY from values given by hand: value, unit, equation, standard.

    Without a property, lists them with their inputs. Percentages are given as percentages (pb=5.3).

    \b
    Examples:
      mixledger compute air_voids gmb=2.442 gmm=2.535
      mixledger compute vma gmb=2.442 ps=94.7 gsb=2.703
      mixledger compute gmb mass_dry=1195.2 mass_submerged=695.2 mass_ssd=1196.9
    """
    from pipeline.compute import compute, list_properties

    if property_name is None:
        _show_list(list_properties(), as_json)
        return
    done = compute(property_name, dict(_pair(given) for given in inputs))
    if as_json:
        output.as_json(done.as_dict())
        return
    unit = f" {done.unit}" if done.unit else ""
    click.echo(f"{done.symbol} = {done.shown}{unit}   (reported: {done.text}{unit})   {done.title}")
    for line in done.steps:
        click.echo(f"  {line}")
    click.echo(f"  {done.standard}{', ' + done.section if done.section else ''}")
    for caution in done.flags:
        click.echo(f"  doubtful: {caution}")


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
