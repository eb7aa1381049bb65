"""Synthetic years for benchmarks: a period's register, readings and figures of many laboratories, as whole columns."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import polars as pl

from schemas.describe import describe
from schemas.validate import conform

_FIRST_DAY = date(2016, 1, 1)
_GRADES = ["PG 58-28", "PG 64-22", "PG 70-22", "PG 76-22"]
_SIEVES = (19.0, 12.5, 9.5, 4.75, 2.36, 1.18, 0.6, 0.3, 0.15, 0.075)
_PASSES = (5000.0, 10000.0, 15000.0, 20000.0)
#: Property, mean and scatter of the figures of a sample of mixture.
_FIGURES = (
    ("gmm", 2.5, 0.01),
    ("gmb", 2.4, 0.012),
    ("air_voids", 4.0, 0.5),
    ("vma", 14.8, 0.5),
    ("vfa", 73.0, 3.0),
    ("pb", 5.2, 0.15),
    ("pbe", 4.7, 0.15),
    ("dust_proportion", 1.0, 0.1),
)
_ROLES = ("dry", "submerged", "ssd")


@dataclass(frozen=True)
class Size:
    """How much there is to be."""

    years: int
    laboratories: int
    samples: int
    wheel_runs: int
    heights: int
    depths: int

    @property
    def periods(self) -> int:
        """Quarters: one run each."""
        return 4 * self.years


def _text(prefix: str, numbers: np.ndarray, digits: int = 2) -> pl.Series:
    return pl.Series(numbers).cast(pl.String).str.zfill(digits).str.replace("^", prefix)


def register(size: Size) -> dict[str, pl.DataFrame]:
    """Return laboratories, projects, mixes and instruments of all years; they come with the first run."""
    labs = np.arange(size.laboratories)
    projects = np.arange(size.laboratories * size.years * 2)
    mixes = np.arange(2 * len(projects))
    base = {"export_hash": "register", "issued_at": datetime(2016, 1, 1)}
    laboratory = {"laboratory_id": _text("L", labs), "laboratory_name": _text("Laboratory ", labs)}
    project = {
        "project_id": _text("P", projects, 4),
        "project_name": _text("Project ", projects, 4),
        "laboratory_id": _text("L", projects % size.laboratories),
        "set_id": "S",
    }
    design = {
        "mix_id": _text("M", mixes, 4),
        "project_id": _text("P", mixes // 2, 4),
        "nmas_mm": np.where(mixes % 2 == 0, 12.5, 19.0),
        "plant": _text("Plant ", mixes % 60),
        "binder_grade": pl.Series([_GRADES[number % len(_GRADES)] for number in mixes]),
        "gsb": 2.65,
        "gmm": 2.5,
        "pb_pct": 5.2,
        "air_voids_pct": 4.0,
        "vma_pct": 14.8,
        "n_design": 75,
        "recycled_pct": (mixes % 4) * 10.0,
    }
    # Every third mix has a second revision, two years later.
    revisions = [(1, mixes, 0), (2, mixes[mixes % 3 == 0], 730)]
    designs = [
        pl.DataFrame(design).with_columns(
            revision=pl.lit(number),
            valid_from=pl.lit(_FIRST_DAY + timedelta(days=days)),
            keep=pl.int_range(pl.len()).is_in(chosen),
        ).filter("keep")
        for number, chosen, days in revisions
    ]  # fmt: skip
    sieves = pl.DataFrame({"sieve_mm": _SIEVES, "passing_pct": np.linspace(100, 5, len(_SIEVES))})
    gradation = pl.concat(designs).select("mix_id", "revision").join(sieves, how="cross")
    kinds = pl.DataFrame({"kind": ["balance", "gyratory compactor", "wheel tracker"], "code": ["B", "G", "W"]})
    instruments = pl.DataFrame(laboratory).join(kinds, how="cross").select(
        "laboratory_id", "kind", instrument_id=pl.concat_str("laboratory_id", pl.lit("-"), "code")
    )  # fmt: skip
    days = [_FIRST_DAY + timedelta(days=200 * number) for number in range(size.years * 365 // 200 + 1)]
    calibrated = instruments.select("instrument_id").join(pl.DataFrame({"calibrated_on": days}), how="cross")
    calibrated = calibrated.with_columns(
        due_on=pl.col("calibrated_on") + pl.duration(days=195), outcome=pl.lit("accepted")
    )
    given = {
        "laboratory": pl.DataFrame(laboratory),
        "project": pl.DataFrame(project),
        "mix_design": pl.concat(designs),
        "mix_gradation": gradation,
        "instrument": instruments,
        "calibration": calibrated,
    }
    return {name: _traced(name, frame.with_columns(**_literals(base))) for name, frame in given.items()}


def _literals(values: dict[str, object]) -> dict[str, pl.Expr]:
    return {name: pl.lit(value) for name, value in values.items()}


def _traced(record: str, frame: pl.DataFrame) -> pl.DataFrame:
    return conform(frame.with_columns(source_line=pl.int_range(1, pl.len() + 1)), record)


@dataclass(frozen=True)
class Period:
    """One quarter: rows by record, results, and its samples."""

    number: int
    samples: pl.DataFrame
    frames: dict[str, pl.DataFrame]
    values: pl.DataFrame
    judgements: pl.DataFrame


def periods(size: Size, seed: int = 1) -> Iterator[Period]:
    """Yield the quarters one after the other."""
    each = size.samples // size.periods
    for number in range(size.periods):
        yield _period(size, number, each, np.random.Generator(np.random.PCG64([seed, number])))


def _samples(size: Size, number: int, count: int, rng: np.random.Generator) -> pl.DataFrame:
    index = number * count + np.arange(count)
    labs = index % size.laboratories
    year = number // 4
    mixes = 2 * (labs + size.laboratories * (2 * year + rng.integers(0, 2, count))) + rng.integers(0, 2, count)
    phase = np.where(index % 40 == 0, "verification", np.where(index % 40 == 1, "startup", "production"))
    start = _FIRST_DAY + timedelta(days=91 * number)
    return pl.DataFrame(
        {
            "sample_id": _text("X", index, 7),
            "mix_id": _text("M", mixes, 4),
            "project_id": _text("P", mixes // 2, 4),
            "laboratory_id": _text("L", labs),
            "material": np.where(index % 7 == 3, "core", "mix"),
            "phase": phase,
            "lot": pl.Series(number * 20 + rng.integers(0, 20, count)).cast(pl.String),
            "taken_on": pl.Series(np.datetime64(start) + rng.integers(0, 91, count)).cast(pl.Date),
            "tonnage_t": rng.uniform(100, 5000, count).round(),
            "tracked": rng.random(count) < size.wheel_runs / 2 / size.samples,
        }
    ).with_columns(
        export_hash=pl.format("{}-readings", "sample_id"),
        at=pl.col("taken_on").cast(pl.Datetime("us")) + pl.duration(hours=30),
    )


def _noise(rng: np.random.Generator, frame: pl.DataFrame, mean: float, scatter: float) -> pl.Series:
    return pl.Series(rng.normal(mean, scatter, frame.height))


def _readings(size: Size, samples: pl.DataFrame, rng: np.random.Generator) -> dict[str, pl.DataFrame]:
    numbers = pl.DataFrame({"specimen_no": ["1", "2"]})
    stamps = {"issued_at": pl.col("at"), "stated_at": pl.col("at")}
    specimens = samples.join(numbers, how="cross").with_columns(**stamps)
    roles = pl.DataFrame({"role": _ROLES, "mass_g": [4800.0, 2810.0, 4812.0]})
    instrument = pl.format("{}-{}", "laboratory_id", pl.lit("B"))
    weighed = specimens.join(roles, how="cross").with_columns(method=pl.lit("t166"), instrument_id=instrument)
    weighed = weighed.with_columns(mass_g=(pl.col("mass_g") + _noise(rng, weighed, 0, 15)).round(1))
    press = specimens.filter(material="mix").with_columns(
        instrument_id=pl.format("{}-{}", "laboratory_id", pl.lit("G")),
        stop_rule=pl.lit("gyrations"),
        gyrations=pl.lit(size.heights),
    )  # fmt: skip
    heights = press.select("export_hash", "sample_id", "specimen_no", "issued_at").join(
        pl.DataFrame({"gyration": np.arange(size.heights)}), how="cross"
    )
    heights = heights.with_columns(
        height_mm=(115 + 20 / (1 + pl.col("gyration") / 10) + _noise(rng, heights, 0, 0.02)).round(2)
    )
    wheels = samples.filter("tracked").join(pl.DataFrame({"wheel": ["left", "right"]}), how="cross").with_columns(
        **stamps,
        specimen_no=pl.lit("1"),
        instrument_id=pl.format("{}-{}", "laboratory_id", pl.lit("W")),
        passes=pl.lit(20000),
    )  # fmt: skip
    depths = wheels.select("export_hash", "sample_id", "specimen_no", "wheel", "issued_at").join(
        pl.DataFrame({"wheel_pass": np.linspace(0, 20000, size.depths).astype(int)}), how="cross"
    )
    depths = depths.with_columns(
        (4 * (pl.col("wheel_pass") / 20000).pow(0.3) + _noise(rng, depths, 0, 0.02))
        .round(2)
        .alias(f"depth_{place:02d}_mm")
        for place in range(1, 12)
    )
    cores = specimens.filter(material="core").with_columns(thickness_mm=pl.lit(50.0))
    given = {
        "sample": samples,
        "weighing": weighed,
        "compaction_run": press,
        "compaction_height": heights,
        "wheel_run": wheels,
        "wheel_depth": depths,
        "core": cores,
    }
    return {name: _traced(name, frame) for name, frame in given.items() if frame.height}


def _figure(frame: pl.DataFrame, name: str, values: pl.Series, level: str = "sample") -> pl.DataFrame:
    own = {
        "level": level,
        "property": name,
        "route": "synthetic",
        "formula_version": "synthetic",
        "n": 2,
        "spread": 0.01,
    }
    keep = ["sample_id", *(each for each in ("method", "specimen_no", "point") if each in frame.columns)]
    made = frame.select(keep).with_columns(value=values, **_literals(own))
    schema = {key: dtype for key, dtype in describe("property_value").schema().items() if not key.startswith("valid_")}
    return made.with_columns(
        pl.lit(None, dtype).alias(key) for key, dtype in schema.items() if key not in made.columns
    ).select(pl.col(key).cast(dtype) for key, dtype in schema.items())


def _values(samples: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    mix, cores, tracked = samples.filter(material="mix"), samples.filter(material="core"), samples.filter("tracked")
    sieved = mix.gather_every(5).join(
        pl.DataFrame({"point": _SIEVES, "target": np.linspace(100, 5, len(_SIEVES))}), how="cross"
    )
    numbers = pl.DataFrame({"specimen_no": ["1", "2"]})
    pressed = mix.join(numbers, how="cross").with_columns(method=pl.lit("t166"))
    cut = cores.join(numbers, how="cross").with_columns(method=pl.lit("t166"))
    wheels = tracked.join(pl.DataFrame({"specimen_no": ["1 left", "1 right"]}), how="cross").with_columns(
        method=pl.lit("t324")
    )
    deep = wheels.join(pl.DataFrame({"point": _PASSES}), how="cross")
    density = _noise(rng, cut, 93.5, 1.2)
    return pl.concat(
        [
            *(_figure(mix, name, _noise(rng, mix, mean, scatter)) for name, mean, scatter in _FIGURES),
            _figure(sieved, "passing", sieved["target"] + _noise(rng, sieved, 0, 1.5)),
            _figure(pressed, "gmb_n_design", _noise(rng, pressed, 2.4, 0.012), "specimen"),
            _figure(pressed, "air_voids", _noise(rng, pressed, 4, 0.5), "specimen"),
            _figure(cut, "relative_compaction", density, "specimen"),
            _figure(cut, "core_air_voids", 100 - density, "specimen"),
            _figure(deep, "rut_depth", _noise(rng, deep, 4, 1.5), "specimen"),
            _figure(wheels, "sip_lines", _noise(rng, wheels, 16000, 3000), "specimen"),
        ]
    )


def _judged(values: pl.DataFrame) -> pl.DataFrame:
    judged = values.filter(pl.col("property").is_in(["air_voids", "vma", "vfa", "pb"]), level="sample")
    fails = (pl.col("property") == "air_voids") & ((pl.col("value") - 4).abs() > 1)
    return judged.select(
        "sample_id", "property", "point", "value", "flags", set_id=pl.lit("S"), limit_id=pl.col("property"),
        lower=pl.lit(None, pl.Float64), upper=pl.lit(None, pl.Float64), reason=pl.lit(None, pl.String),
        verdict=pl.when(fails).then(pl.lit("fail")).otherwise(pl.lit("pass")),
    )  # fmt: skip


def _period(size: Size, number: int, count: int, rng: np.random.Generator) -> Period:
    samples = _samples(size, number, count, rng)
    values = _values(samples, rng)
    return Period(number, samples, _readings(size, samples, rng), values, _judged(values))
