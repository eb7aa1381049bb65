"""Command `serve`: keep the workspace running."""

import signal
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import click

from pipeline import settings, workspace


@click.command()
@click.option(
    "--interval",
    type=click.FloatRange(min=10),
    metavar="SECONDS",
    help="A pass at least this often.  [default: [serve] interval_seconds of the settings]",
)
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    help="Port of the run history on this machine.  [default: 4200, or a free one]",
)
@click.pass_obj
def command(folder: Path, interval: float | None, port: int | None) -> None:
    """Run a pass whenever files of the inbox have settled, and at an interval, until stopped.

    A file has settled when its size and time stamp have not changed for [intake] settle_seconds; a file that is
    still being written is left alone. Passes run one at a time, are tried again when something passing goes wrong,
    and stand in the run history, whose address is printed. With PREFECT_API_URL set they report there; otherwise a
    Prefect server is started on loopback, with its database in the workspace. Ctrl-C or SIGTERM ends all of it.

    \b
    Examples:
      mixledger -w lab serve
      mixledger -w lab serve --interval 600 --port 4300
    """
    found = workspace.find(folder)
    options = settings.load(found.root)
    if interval is not None:
        options = replace(options, serve=replace(options.serve, interval_seconds=interval))
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        _serve(found, options, port)
    except KeyboardInterrupt:
        click.echo("stopped before it had started", err=True)


def _serve(found: workspace.Workspace, options: settings.Settings, port: int | None) -> None:
    from pipeline.server import standing

    with standing(found, port, say=click.echo) as server:
        from pipeline.service import serve

        serve(found, options, server, click.echo)
    click.echo("stopped")


def _interrupt(*_: object) -> NoReturn:
    raise KeyboardInterrupt
