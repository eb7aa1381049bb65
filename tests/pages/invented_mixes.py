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


#: Figures followed along time: target, lower and upper limit of every result, and the first value.
FOLLOWED = {
    "air_voids": (4.0, 2.5, 5.5, 3.1),
    "vma": (None, 14.0, None, 14.2),
    "vfa": (None, 65.0, 75.0, 72.0),
    "pb": (5.1, 4.8, 5.4, 4.95),
    "dust_proportion": (None, None, None, 0.9),
}


def _verdict(value: float, lower: float | None, upper: float | None) -> str | None:
    if lower is None and upper is None:
        return None
    return "fail" if value < (lower or 0) or value > (upper or 1000) else "pass"


def _trends(key: dict[str, Any], taken: Rows) -> tuple[Rows, Rows]:
    """Return results that climb by a fifth of a unit from sample to sample and begin anew, and what they come to."""
    rows: Rows = []
    for name, (target, lower, upper, first) in FOLLOWED.items():
        for number, sample in enumerate(taken):
            value = first + 0.2 * (number % 16)
            rows.append(
                {
                    **key, "project_id": sample["project_id"], "revision": 1, "sample_id": sample["sample_id"],
                    "taken_on": sample["taken_on"], "property": name, "value": value, "target": target, "lower": lower,
                    "upper": upper, "verdict": _verdict(value, lower, upper),
                    "flags": "absorption_high" if number % 5 == 2 else None,
                }
            )  # fmt: skip
    totals = [
        {
            **key, "property": name, "samples": len(taken), "target": limits[0], "lower": limits[1], "upper": limits[2],
            "outside": sum(row["verdict"] == "fail" for row in rows if row["property"] == name),
            "flagged": sum(row["flags"] is not None for row in rows if row["property"] == name),
        }
        for name, limits in FOLLOWED.items()
    ]  # fmt: skip
    return rows, totals


def curves(key: dict[str, Any], taken: Rows, points: int = 5) -> tuple[Rows, Rows]:
    """Return curves of rutting and of density of each sample, as they come thinned: even in passes, in gyrations."""
    rut, dense = [], []
    for number, sample in enumerate(taken):
        one = {**key, "sample_id": sample["sample_id"], "taken_on": sample["taken_on"]}
        for step in range(1, points + 1):
            rut.append(
                {
                    **one, "verdict": ("pass", "fail", None)[number % 3], "wheels": 2,
                    "wheel_pass": 20000 * step // points, "depth_mm": (4 + number % 7) * (step / points) ** 0.5,
                }
            )  # fmt: skip
            dense.append(
                {
                    **one, "phase": sample["phase"], "specimens": 2, "gyration": 75 * step // points,
                    "gmm_pct": 84 + 12 * step / points - number % 3 / 10,
                }
            )  # fmt: skip
    return rut, dense


def _followed(samples: Rows, made: dict[str, Rows]) -> None:
    """Add what is drawn along time and along passes and gyrations, and the stockpiles of each mix."""
    for mix in sorted({row["mix_id"] for row in samples}):
        key = {"mix_id": mix}
        taken = [row for row in samples if row["mix_id"] == mix]
        rows, totals = _trends(key, taken)
        rut, dense = curves(key, taken)
        made["mix_trends"] += rows
        made["mix_trend_totals"] += totals
        made["mix_rut"] += rut
        made["mix_density"] += dense
        made["mix_rut_limits"].append(
            {**key, "binder_grade": "PG 64-22", "passes": 10000.0, "depth_mm": 12.5, "source": "contract, table 4"}
        )
        made["stockpile"] += [
            {**key, "revision": 2, "stockpile": name, "share_pct": share, "source": "Low Pit", "gsb": gsb, "gsa": None}
            for name, share, gsb in (("coarse", 60.5, 2.65), ("sand", 39.5, None))
        ]
        made["mix_gravity"].append({**key, "revision": 2, "gsb_blend": 2.6415})


_DRAWN = ("mix_trends", "mix_trend_totals", "mix_rut", "mix_rut_limits", "mix_density", "stockpile", "mix_gravity")


def tables(samples: Rows) -> dict[str, Rows]:
    """Return the rows of mixes, mix_phases, mix_gradation, mix_bands and mix_states, and of what is drawn of them."""
    projects = {row["mix_id"]: row["project_id"] for row in samples}
    made: dict[str, Rows] = {name: [] for name in ("mixes", "mix_phases", "mix_gradation", "mix_bands", "mix_states")}
    made |= {name: [] for name in _DRAWN}
    _followed(samples, made)
    for mix, project in projects.items():
        for revision in (1, 2):
            key = {"mix_id": mix, "revision": revision}
            made["mixes"].append(
                {
                    **key, "valid_from": dt.date(2026, 2 + 3 * revision, 1), "project_id": project, "plant": "plant 2",
                    "nmas_mm": 12.5, "binder_grade": "PG 64-22", "traffic": "heavy",
                    "layer": "surface", "pb_pct": 5.1, "gmm": 2.47, "air_voids_pct": 4.0,
                    "vma_pct": 14.5, "n_initial": 7, "n_design": 75, "n_maximum": 115,
                    "recycled_pct": 15.0, "maximum_size_mm": 19.0,
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
