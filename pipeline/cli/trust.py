"""Command `trust`: let a package's plugins, or code of the workspace, run; or no longer."""

from pathlib import Path

import click

from pipeline import settings, trusting, workspace


@click.command()
@click.argument("what", metavar="NAME|PATH")
@click.option("--pin", is_flag=True, help="Trust this version of the package only.")
@click.option("--withdraw", is_flag=True, help="Take the trust back.")
@click.option("--dry-run", is_flag=True, help="Show what would be trusted; change nothing.")
@click.pass_obj
def command(folder: Path, what: str, pin: bool, withdraw: bool, dry_run: bool) -> None:
    """Let the plugins of an installed package (NAME), or code in the workspace (PATH), run in this workspace.

    Installing a package does not make its code run; this does. Shows distribution, version, entry points and files,
    then writes the line into mixledger.toml. Code of the workspace is trusted with the hash of its bytes: changed code
    does not run until it is trusted again. Layouts are data and need no trust.

    \b
    Examples:
      mixledger -w lab trust our-press-importer --dry-run
      mixledger -w lab trust our-press-importer --pin
      mixledger -w lab trust importers/our_press
      mixledger -w lab trust our-press-importer --withdraw
    """
    found = workspace.find(folder)
    settings.load(found.root)
    if withdraw:
        about = trusting.named(found, what)
        changed = not dry_run and trusting.write(found, about, keep=False)
        if not changed:
            click.echo(f"would take trust from {about.name}" if dry_run else f"{about.name} was not trusted")
            return
        click.echo(
            f"{about.name} is no longer trusted; what it read stays in the warehouse, its pages in {found.pages}"
        )
        return
    about = trusting.subject(found, what, pin)
    for line in about.shown:
        click.echo(line)
    if dry_run:
        click.echo(f'would write under [plugins] trusted: "{about.entry}"')
        return
    changed = trusting.write(found, about, keep=True)
    click.echo(f'{"trusted" if changed else "already trusted"}: "{about.entry}" in {found.root / settings.FILE_NAME}')
