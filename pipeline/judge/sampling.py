"""Random sampling plan after ASTM D3665: one place per sublot, by tonnage or by station and offset, from a seed."""

from random import Random

import polars as pl

#: Generator whose numbers depend on the seed alone, on every machine and version.
GENERATOR = "MT19937 (Python random.Random, random())"


class SamplingError(ValueError):
    """A plan that cannot be drawn; the message says why."""


def numbers(seed: int, count: int) -> list[float]:
    """Return random numbers from 0 up to 1, to four decimals as in printed tables."""
    source = Random(seed)  # noqa: S311 - a plan is to be repeatable, not secret
    return [int(source.random() * 10_000) / 10_000 for _ in range(count)]


def by_tonnage(drawn: list[float], lot_t: float, start_t: float = 0.0) -> pl.DataFrame:
    """Return one place per sublot of equal size: lower bound of the sublot + r × its size (NJDOT B-2, p. 570).

    Parameters
    ----------
    drawn
        One random number per sublot.
    lot_t, start_t
        Tonnage of the lot, and the tonnage at which it begins.

    Returns
    -------
    `no`, `kind`, `sublot`, `random_1`, `tonnage_t`.
    """
    if not drawn or lot_t <= 0:
        raise SamplingError(f"expected at least one sublot and a lot above 0 t, found {len(drawn)} and {lot_t:g} t")
    size = lot_t / len(drawn)
    places = pl.DataFrame({"random_1": drawn}).with_row_index("position")
    tonnage = (start_t + (pl.col("position") + pl.col("random_1")) * size).round(1)
    return places.select(
        no=pl.col("position").cast(pl.Int64) + 1,
        kind=pl.lit("tonnage"),
        sublot=(pl.col("position") + 1).cast(pl.String),
        random_1="random_1",
        tonnage_t=tonnage,
    )


def by_place(
    drawn: list[float], start_m: float, length_m: float, width_m: float, edge_m: float, left_m: float = 0.0
) -> pl.DataFrame:
    """Return one core per sublot of equal length: station = start + r1 × length, offset = r2 × width within the edges.

    Parameters
    ----------
    drawn
        Two random numbers per sublot.
    start_m, length_m
        Where the lot begins, and how long it is.
    width_m, edge_m, left_m
        Width of the mat; strip along both edges that is left out; offset of the left edge from the reference line.

    Returns
    -------
    `no`, `kind`, `sublot`, `random_1`, `random_2`, `station_m`, `offset_m`.
    """
    inner = width_m - 2 * edge_m
    if len(drawn) < 2 or length_m <= 0 or inner <= 0:
        raise SamplingError(
            f"a mat {width_m:g} m wide and {length_m:g} m long, with {edge_m:g} m left out at each edge, has no room "
            "for a core; correct --width, --length or --edge"
        )
    size = length_m / (len(drawn) // 2)
    places = pl.DataFrame({"random_1": drawn[::2], "random_2": drawn[1::2]}).with_row_index("position")
    return places.select(
        no=pl.col("position").cast(pl.Int64) + 1,
        kind=pl.lit("core"),
        sublot=(pl.col("position") + 1).cast(pl.String),
        random_1="random_1",
        random_2="random_2",
        station_m=(start_m + (pl.col("position") + pl.col("random_1")) * size).round(1),
        offset_m=(left_m + edge_m + pl.col("random_2") * inner).round(2),
    )
