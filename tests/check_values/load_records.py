"""Load tests made of published or constructed figures, so that they run through the whole derivation."""

from collections.abc import Mapping, Sequence

import polars as pl
from scipy.optimize import brentq

from pipeline.derive import Inputs, derive
from pipeline.settings import Results
from pipeline.validation.records import design, frame, sample

Row = dict[str, object]
#: Peak so high that the work cut off at the end load does not matter (100 N of it: one part in 10⁸).
HIGH = 900_000.0


def broken(method: str, specimen_no: str = "1", sample_id: str = "S1", **given: object) -> Row:
    """Return the header of a load test."""
    return {"sample_id": sample_id, "specimen_no": specimen_no, "method": method} | given


def trace(
    header: Mapping[str, object], displacement: Sequence[float], load: Sequence[float], rate: float | None = None
) -> list[Row]:
    """Return readings of a load test in mm and N, timed at a rate in mm/min where one is given."""
    key = {name: header[name] for name in ("sample_id", "specimen_no", "method")}
    return [
        {
            **key,
            "reading": number,
            "displacement_mm": float(way),
            "load_n": float(force),
            "time_s": None if rate is None else 60 * way / rate,
        }
        for number, (way, force) in enumerate(zip(displacement, load, strict=True), start=1)
    ]


def values(parameters: Results | None = None, **rows: Sequence[Row]) -> pl.DataFrame:
    """Return the figures derived from these rows, one sample unless others are given."""
    made: dict[str, Sequence[Row]] = {"sample": [sample()], "mix_design": [design()]} | dict(rows)
    return derive(
        Inputs.of(**{record: frame(record, each) for record, each in made.items()}), parameters
    ).property_values


def one(found: pl.DataFrame, prop: str, level: str = "specimen", **where: object) -> Row:
    """Return the only row of a property."""
    wanted = {"property": prop, "level": level} | where
    (row,) = found.filter(*(pl.col(name) == value for name, value in wanted.items())).iter_rows(named=True)
    return row


def triangle(index: float, rising: float = 2.0) -> tuple[list[float], list[float]]:
    """Return a trace of two straight lines whose cracking index is the one given, at 150 x 62 mm.

    With rise r and fall d, the height cancels out: CT = (r + d / 4) / 150 · (r + d) d / 2 / (150 · 62) · 10⁶.
    """

    def off(falling: float) -> float:
        area = (rising + falling) * falling / 2 / (150 * 62) * 1e6
        return (rising + falling / 4) / 150 * area - index

    falling = float(brentq(off, 1e-6, 1000.0, xtol=1e-14))
    return [0.0, rising, rising + falling], [0.0, HIGH, 0.0]
