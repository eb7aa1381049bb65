"""A random sampling plan as the card that is stored: TOML an importer reads."""

import json
from collections.abc import Mapping
from datetime import datetime

import polars as pl

Value = str | int | None


def card(head: Mapping[str, Value], written: datetime, places: pl.DataFrame) -> str:
    """Return the card: head fields (null left out), then the places, one on a line.

    The places stand in one bracket, so that a card cut off anywhere is no TOML: nobody reads it short.
    """
    lines = ['kind = "sampling card"', f"written = {written:%Y-%m-%dT%H:%M:%S}", *_pairs(head), "", "place = ["]
    lines += [f"  {{ {', '.join(_pairs(row))} }}," for row in places.iter_rows(named=True)]
    return "\n".join([*lines, "]", ""])


def _pairs(row: Mapping[str, Value]) -> list[str]:
    return [f"{name} = {json.dumps(value, ensure_ascii=False)}" for name, value in row.items() if value is not None]
