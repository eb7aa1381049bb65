"""Invented designs, phases, gradations and states of mixes, to go with the invented samples."""

import datetime as dt
from typing import Any

Rows = list[dict[str, Any]]
#: Sieve, mm -> passing of the design, %.
SIEVES = {19.0: 100.0, 12.5: 95.0, 9.5: 84.0, 4.75: 57.0, 2.36: 37.0, 0.075: 4.6}


def _phases(key: dict[str, Any]) -> Rows:
    def row(name: str, point: float | None, target: float | None, base: float, samples: int) -> dict[str, Any]:
        production = base + 0.3
        return {
            **key,
            "property": name,
            "point": point,
            "target": target,
            "verification": base,
            "startup": base - 0.2,
            "production": production,
            "production_samples": samples,
            "production_deviation": 0.45,
            "production_less_target": None if target is None else production - target,
            "production_less_verification": production - base,
            "production_less_startup": production - base + 0.2,
        }

    figures = [row("air_voids", None, 4.0, 4.1, 9), row("vma", None, None, 14.6, 9)]
    return figures + [row("passing", sieve, passing, passing - 0.6, 9) for sieve, passing in SIEVES.items()]


def tables(samples: Rows) -> dict[str, Rows]:
    """Return the rows of mixes, mix_phases, mix_gradation, mix_bands and mix_states."""
    projects = {row["mix_id"]: row["project_id"] for row in samples}
    made: dict[str, Rows] = {name: [] for name in ("mixes", "mix_phases", "mix_gradation", "mix_bands", "mix_states")}
    for mix, project in projects.items():
        for revision in (1, 2):
            key = {"mix_id": mix, "revision": revision}
            made["mixes"].append(
                {
                    **key, "valid_from": dt.date(2026, 2 + 3 * revision, 1), "project_id": project, "plant": "plant 2",
                    "nmas_mm": 12.5, "binder_grade": "PG 64-22", "traffic": "heavy",
                    "layer": "surface", "pb_pct": 5.1, "gmm": 2.47, "air_voids_pct": 4.0,
                    "vma_pct": 14.5, "n_design": 75, "recycled_pct": 15.0, "maximum_size_mm": 19.0,
                }
            )  # fmt: skip
            made["mix_gradation"] += [{**key, "sieve_mm": s, "passing_pct": p} for s, p in SIEVES.items()]
            made["mix_bands"] += [
                {**key, "sieve_mm": 4.75, "basis": "from_target", "lower": 51.0, "upper": 63.0},
                {**key, "sieve_mm": 2.36, "basis": "absolute", "lower": 28.0, "upper": 58.0},
                {**key, "sieve_mm": 12.5, "basis": "absolute", "lower": 90.0, "upper": None},
            ]
        made["mix_phases"] += _phases({"mix_id": mix, "project_id": project, "revision": 1})
        taken = [row for row in samples if row["mix_id"] == mix and row["phase"] == "production"]
        made["mix_states"] += [
            {
                "mix_id": mix, "project_id": project, "event_no": number, "taken_on": row["taken_on"],
                "sample_id": row["sample_id"], "purpose": "acceptance", "out": number % 3 == 0,
                "failed": "voids" if number % 3 == 0 else None, "state": "check" if number % 3 == 0 else "in_control",
            }
            for number, row in enumerate(taken, start=1)
        ]  # fmt: skip
    return made
