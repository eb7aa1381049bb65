"""Throughput of the formulas: `python -m tests.benchmarks.formulas [SPECIMENS]` (200,000), in this process.

Generated masses of all methods but wheel tracking go through the whole derivation: tables, formulas, means, checks,
rows to store. A load test with a trace counts as one specimen too. Prints specimens per minute of wall-clock and of
CPU time (the machine may be shared), without and with uncertainties.
"""

import sys
import time
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import polars as pl

from pipeline.derive import Inputs
from pipeline.derive.derivation import derive
from schemas.describe import describe

#: Specimens of one loose-mix sample by method; a second sample of the same lot has the cores.
_GYRATORY, _MAXIMUM, _IGNITION, _SIEVED, _CORES, _STRENGTH, _CRACKING = 3, 2, 2, 1, 6, 6, 3
_PER_PAIR = _GYRATORY + _MAXIMUM + _IGNITION + _SIEVED + _CORES + _STRENGTH + _CRACKING
_SIEVES = (19.0, 12.5, 9.5, 4.75, 2.36, 1.18, 0.6, 0.3, 0.15, 0.075, 0.0)
_SHARES = np.array([0.02, 0.08, 0.12, 0.22, 0.17, 0.11, 0.08, 0.07, 0.06, 0.04, 0.03])
_GYRATIONS = (8, 20, 40, 60, 80, 100)


def _filled(record: str, **columns: object) -> pl.DataFrame:
    """Return a frame with every column of a record; those not given are null, the export is one for all."""
    given = pl.DataFrame(columns)
    given = given.with_columns(export_hash=pl.lit("bench"), source_line=pl.lit(1))
    return given.select(
        (pl.col(name) if name in given.columns else pl.lit(None)).cast(kind).alias(name)
        for name, kind in describe(record).schema().items()
    )


def _numbered(samples: np.ndarray, each: int) -> dict[str, object]:
    return {
        "sample_id": np.repeat(samples, each),
        "specimen_no": np.tile([str(number + 1) for number in range(each)], len(samples)),
    }


class _Bench:
    """Generates the records of a number of pairs of samples."""

    def __init__(self, pairs: int) -> None:
        self.random = np.random.default_rng(166)
        self.mix = np.array([f"S{number:06d}" for number in range(pairs)])
        self.core = np.array([f"C{number:06d}" for number in range(pairs)])
        self.weighings: list[pl.DataFrame] = []

    def around(self, mean: float, spread: float, count: int) -> np.ndarray:
        return np.round(self.random.normal(mean, spread, count), 1)

    def weigh(self, method: str, key: dict[str, object], sieve: object = None, **masses: np.ndarray) -> None:
        for role, mass in masses.items():
            given = key | {"method": method, "role": role, "mass_g": mass}
            if sieve is not None:
                given["sieve_mm"] = sieve
            if role == "submerged":
                given["water_temperature_c"] = 25.0
            self.weighings.append(_filled("weighing", **given))

    def bulk(self, method: str, key: dict[str, object], gmb: float = 2.42) -> None:
        count = len(key["sample_id"])  # type: ignore[arg-type]
        dry = self.around(4800, 15, count)
        ssd = dry + np.abs(self.around(8, 3, count))
        volume = dry / self.random.normal(gmb, 0.008, count)
        self.weigh(method, key, dry=dry, ssd=ssd, submerged=np.round(ssd - volume, 1))

    def loose(self) -> None:
        key = _numbered(self.mix, _MAXIMUM)
        count = len(key["sample_id"])  # type: ignore[arg-type]
        dry, vessel = self.around(2000, 20, count), self.around(7400, 3, count)
        volume = dry / self.random.normal(2.52, 0.004, count)
        self.weigh(
            "t209", key, dry=dry, container_water=vessel, container_sample_water=np.round(vessel + dry - volume, 1)
        )
        key = _numbered(self.mix, _IGNITION)
        count = len(key["sample_id"])  # type: ignore[arg-type]
        before = self.around(1800, 10, count)
        self.weigh(
            "t308", key, before_burn=before, after_burn=np.round(before * self.random.normal(0.945, 0.001, count), 1)
        )

    def sieved(self) -> None:
        key = _numbered(self.mix, _SIEVED)
        count = len(self.mix)
        before = self.around(1700, 10, count)
        self.weigh("t30", key, before_wash=before, after_wash=np.round(before * 0.97, 1))
        for sieve, share in zip(_SIEVES, _SHARES, strict=True):
            self.weigh("t30", key, sieve=sieve, retained=np.round(before * 0.97 * share, 1))

    def pressed(self) -> dict[str, pl.DataFrame]:
        key = _numbered(self.mix, _GYRATORY)
        self.bulk("t166", key)
        count = len(key["sample_id"])  # type: ignore[arg-type]
        run = {
            "stop_rule": "gyrations",
            "gyrations": 100,
            "pressure_kpa": 600.0,
            "angle_deg": 1.16,
            "speed_per_min": 30.0,
        }
        final = self.around(115, 0.5, count)
        heights = [
            _filled(
                "compaction_height", **key, gyration=at, height_mm=np.round(final * (1 + 0.06 * np.log10(100 / at)), 1)
            )
            for at in _GYRATIONS
        ]
        return {"compaction_run": _filled("compaction_run", **key, **run), "compaction_height": pl.concat(heights)}

    def broken(self) -> pl.DataFrame:
        found = []
        for method, each, size in (("t283", _STRENGTH, (150.0, 95.0)), ("d8225", _CRACKING, (150.0, 62.0))):
            key = _numbered(self.mix, each)
            count = len(key["sample_id"])  # type: ignore[arg-type]
            self.bulk(method, key, 2.34)
            state = np.tile(["dry", "conditioned"], count // 2) if method == "t283" else None
            given = {"specimen_diameter_mm": size[0], "specimen_thickness_mm": size[1], "rate_mm_per_min": 50.0}
            if state is not None:
                given["conditioning"] = state  # type: ignore[assignment]
            peak = self.around(20_000, 900, count)
            found.append(_filled("load_test", **key, method=method, peak_load_stated_n=peak, **given))
        return pl.concat(found)

    def inputs(self) -> Inputs:
        days = [date(2025, 4, 1) + timedelta(days=number % 200) for number in range(len(self.mix))]
        lots = [str(number) for number in range(len(self.mix))]
        common = {"project_id": "P", "mix_id": "M", "phase": "production", "lot": lots, "taken_on": days}
        samples = [
            _filled("sample", sample_id=ids, material=material, laboratory_id="L", **common)
            for ids, material in ((self.mix, "mix"), (self.core, "core"))
        ]
        levels = {"n_initial": 8, "n_design": 100, "n_maximum": 160}
        gravities = {"gb": 1.03, "gsb": 2.65, "pb_pct": 5.4, "ignition_correction_pct": 0.2, "nmas_mm": 12.5}
        stated = {"mix_id": ["M"], "revision": 1, "valid_from": date(2025, 1, 1)}
        design = _filled("mix_design", **stated, **levels, **gravities)
        self.loose()
        self.sieved()
        series = self.pressed()
        self.bulk("t166", _numbered(self.core, _CORES), 2.36)
        loaded = self.broken()
        weighing = pl.concat(self.weighings)
        return Inputs.of(sample=pl.concat(samples), mix_design=design, weighing=weighing, load_test=loaded, **series)


def _timed(work: Callable[[], object]) -> tuple[float, float]:
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - cpu


def main(specimens: int = 200_000) -> None:
    """Print the throughput with and without uncertainties."""
    pairs = max(1, specimens // _PER_PAIR)
    made = _Bench(pairs).inputs()
    count = pairs * _PER_PAIR
    print(
        f"{count:,} specimens of {2 * pairs:,} samples, {made.weighing.height:,} weighings, "
        f"{pl.thread_pool_size()} threads"
    )
    for title, doubtful in (("without uncertainties", False), ("with uncertainties", True)):
        wall, cpu = _timed(lambda doubtful=doubtful: derive(made, uncertainties=doubtful))  # type: ignore[misc]
        print(
            f"{title:<24}{wall:7.1f} s wall {cpu:7.1f} s CPU   "
            f"{count * 60 / wall / 1e6:6.2f} million specimens a minute, "
            f"{count * 120 / cpu / 1e6:6.2f} by CPU time on two cores",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:]))
