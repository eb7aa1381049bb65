"""Command `new-importer`: the package an importer in code starts from."""

from pathlib import Path

import click

from pipeline import skeleton


@click.command()
@click.argument("name")
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    default=Path(),
    show_default="this folder",
    help="Where the folder of the package is made.",
)
def command(name: str, into: Path) -> None:
    """Write a complete package for an importer in code: reader, entry point, example, expected records, tests.

    It keeps the importer's contract as it stands; change it to your instrument step by step. Most instruments need a
    layout only, which is data and needs no package: see DEVELOPERS.md.

    \b
    Example:
      mixledger new-importer our_press
    """
    files = skeleton.write(name, into)
    for path in files:
        click.echo(path)
    click.echo(f"its tests hold as they are: cd {into / name} && pytest")
