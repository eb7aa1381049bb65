"""Option `--wait` of the commands that write: how long to wait for another writer, and who that is."""

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pipeline.workspace import Workspace

#: Longest wait, in seconds: a day.
_LONGEST = 86_400

option = click.option(
    "--wait",
    "wait_seconds",
    type=click.FloatRange(min=0, max=_LONGEST),
    default=0,
    metavar="SECONDS",
    help="Wait so long for another writer to finish, instead of giving up at once.",
)


def told(found: "Workspace", wait_seconds: float) -> float:
    """Say on standard error who is waited for, if anyone; return the seconds."""
    from warehouse.lock import holder

    who = holder(found.store) if wait_seconds else None
    if who is not None:
        click.echo(f"{who} Waiting up to {wait_seconds:g} s.", err=True)
    return wait_seconds
