"""A random sampling plan as the card that is stored: TOML an importer reads."""

import json
from collections.abc import Mapping
from datetime import datetime

import polars as pl

Value = str | int | None


def card(head: Mapping[str, Value], written: datetime, places: pl.DataFrame) -> str:
    """Return the card: head fields (null left out), then one [[place]] per place."""
    lines = ['kind = "sampling card"', f"written = {written:%Y-%m-%dT%H:%M:%S}"]
    lines += [f"{name} = {json.dumps(value, ensure_ascii=False)}" for name, value in head.items() if value is not None]
    for row in places.iter_rows(named=True):
        lines += ["", "[[place]]"]
        lines += [f"{name} = {json.dumps(value)}" for name, value in row.items() if value is not None]
    return "\n".join([*lines, ""])
