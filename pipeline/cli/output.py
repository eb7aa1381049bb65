"""What commands share in showing results: tables, JSON, the lines that sum up a pass."""

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    import polars as pl

    from pipeline.order import Outcome


def as_json(value: Any) -> None:
    """Print a value as JSON; dates as ISO 8601, numbers as numbers."""
    click.echo(json.dumps(value, indent=2, default=str, ensure_ascii=False))


def table(headings: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Print a table; on a terminal as wide as it is, piped without colours and without cutting cells."""
    import sys

    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    piped = not sys.stdout.isatty()
    console = Console(width=10_000 if piped else None, no_color=piped, highlight=False)
    drawn = Table(box=None, pad_edge=False, show_edge=False)
    for position, heading in enumerate(headings):
        numeric = all(isinstance(row[position], int | float) or row[position] is None for row in rows)
        drawn.add_column(Text(heading), justify="right" if numeric and rows else "left", overflow="fold")
    for row in rows:
        drawn.add_row(*(Text(cell_text(cell)) for cell in row))
    with console.capture() as captured:
        console.print(drawn)
    click.echo("\n".join(line.rstrip() for line in captured.get().splitlines()))


def cell_text(cell: object) -> str:
    """Return a cell as text: nothing for null, numbers without noise."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return str(cell).replace("\r", " ").replace("\n", " ")


def frame_table(frame: "pl.DataFrame") -> None:
    """Print a frame as a table."""
    table(frame.columns, frame.rows())


def outcome(done: "Outcome") -> None:
    """Say what a pass did, and what stands against it."""
    for problem in done.problems:
        click.echo(f"left: {problem}", err=True)
    click.echo(done.sentence)
