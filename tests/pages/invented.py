"""An invented data set of the tables renderers are handed: laboratories, projects and figures exist nowhere."""

import datetime as dt
import math
import random

import polars as pl

from tests.pages import invented_lots, invented_mixes, invented_overview, invented_work

PROPERTIES = [
    # property, symbol, name, unit, decimals, standard, section, equation, level, method of the specimens
    ("gmb", "Gmb", "bulk specific gravity", None, 3, "AASHTO T 166", "calculation", "A / (B - C)", "specimen", "t166"),
    (
        "gmm",
        "Gmm",
        "maximum specific gravity",
        None,
        3,
        "AASHTO T 209",
        "calculation",
        "A / (A + D - E)",
        "specimen",
        "t209",
    ),
    ("air_voids", "Va", "air voids", "%", 1, "AASHTO T 269", "calculation", "100 (1 - Gmb / Gmm)", "sample", None),
    (
        "vma",
        "VMA",
        "voids in the mineral aggregate",
        "%",
        1,
        "AASHTO R 35",
        "volumetrics",
        "100 - Gmb Ps / Gsb",
        "sample",
        None,
    ),
    (
        "vfa",
        "VFA",
        "voids filled with asphalt",
        "%",
        1,
        "AASHTO R 35",
        "volumetrics",
        "100 (VMA - Va) / VMA",
        "sample",
        None,
    ),
    (
        "pb",
        "Pb",
        "binder content",
        "%",
        2,
        "AASHTO T 308",
        "calculation",
        "100 (Mi - Mf) / Mi - CF",
        "specimen",
        "t308",
    ),
    (
        "relative_compaction",
        None,
        "relative compaction",
        "%",
        1,
        "AASHTO T 166",
        "cores",
        "100 Gmb / Gmm",
        "specimen",
        "t166",
    ),
    ("rut_depth", None, "rut depth", "mm", 1, "AASHTO T 324", "calculation", "depth at the pass", "specimen", "t324"),
    ("dust_proportion", "DP", "dust proportion", None, 2, "AASHTO R 35", "volumetrics", "P0.075 / Pbe", "sample", None),
    ("passing", None, "passing", "%", 1, "AASHTO T 30", "calculation", "100 - retained", "specimen", "t30"),
]
#: property, at, mean, s, lower, upper
FIGURES = [
    ("air_voids", None, 4.1, 0.55, 3.0, 5.0),
    ("vma", None, 14.7, 0.35, 14.0, None),
    ("vfa", None, 72.0, 2.5, 65.0, 78.0),
    ("pb", None, 5.12, 0.14, 4.9, 5.5),
    ("relative_compaction", None, 93.6, 0.9, 92.0, None),
    ("rut_depth", 20000.0, 7.2, 2.2, None, 12.5),
    ("dust_proportion", None, 1.02, 0.12, 0.6, 1.2),
    ("passing", 0.075, 5.4, 0.5, 4.0, 7.0),
    ("passing", 4.75, 58.0, 2.0, 52.0, 64.0),
]
PLACES = [
    ("HARBOUR-2", "Harbour link road", "new highway", "HB", "Harbour laboratory", "coast"),
    ("MESA-OVERLAY", "Mesa thin overlay", "thin overlay", "QL", "Quarry Lane laboratory", "inland"),
    ("FIELD-7", "Runway seven resurfacing", "airfield", "QL", "Quarry Lane laboratory", "inland"),
    ("RIVERSIDE", "Riverside bus corridor", "heavy urban street", "HB", "Harbour laboratory", "coast"),
    ("NORTHPASS", "North pass climbing lane", "mountain road", "NP", "North pass laboratory", "mountains"),
]
PHASES = ["verification", "startup", "production"]


def half_even(value: float, decimals: int) -> str:
    """Return the figure as text, rounded half to even on its decimal digits (ASTM E29)."""
    from decimal import ROUND_HALF_EVEN, Decimal

    step = Decimal(1).scaleb(-decimals)
    return str(Decimal(str(round(value, 6))).quantize(step, rounding=ROUND_HALF_EVEN))


def _register(projects: int, per_project: int, rng: random.Random) -> tuple[list[tuple], list[dict]]:
    rows = [
        PLACES[i]
        if i < len(PLACES)
        else (f"P-{i:03}", f"Invented project {i}", "county road", "NP", "North pass laboratory", "mountains")
        for i in range(projects)
    ]
    samples = []
    for i, row in enumerate(rows):
        for k in range(per_project):
            samples.append(
                {
                    "sample_id": f"{row[3]}-{i * per_project + k:04}",
                    "project_id": row[0],
                    "mix_id": f"{row[0]}-A",
                    "revision": 1,
                    "material": "core" if k % 5 == 4 else "mix",
                    "phase": PHASES[min(k // 2, 2)],
                    "laboratory_id": row[3],
                    "lot": None if k < 4 else str(1 + (k - 4) // 4),
                    "sublot": None if k < 4 else "ABCD"[k % 4],
                    "taken_on": dt.date(2026, 3, 2) + dt.timedelta(days=2 * k + i),
                    "place": rng.choice(["truck", "behind the paver", "plant discharge", "station 12+350"]),
                    "tonnage_t": None if k < 4 else 400.0 * k,
                    "nmas_mm": 12.5,
                    "binder_grade": "PG 64-22",
                    "plant": f"plant {1 + i % 3}",
                }
            )
    return rows, samples


def _figures(samples: list[dict], rng: random.Random) -> tuple[list[dict], list[dict], list[dict]]:
    decimals = {row[0]: row[4] for row in PROPERTIES}
    values, judged, missing = [], [], []
    shift: dict[str, float] = {}
    for order, sample in enumerate(samples):
        bias = shift.setdefault(sample["project_id"], rng.gauss(0, 0.5))
        for name, at, mean, s, lower, upper in FIGURES:
            if (name == "relative_compaction") != (sample["material"] == "core"):
                continue
            if name == "rut_depth" and order % 4:
                continue
            key = {"sample_id": sample["sample_id"], "property": name, "point": at}
            if rng.random() < 0.03:
                missing.append(
                    {"project_id": sample["project_id"], **key, "reason": "the set requires it; no test has arrived"}
                )
                continue
            value = mean + s * (rng.gauss(0, 1) + bias)
            flags = "bath_temperature" if rng.random() < 0.04 else None
            withheld = "no Gmm of this sample" if name in ("air_voids", "vma") and rng.random() < 0.03 else None
            text = half_even(value, decimals[name])
            shown = None if withheld else value
            values.append(
                {
                    **key,
                    "value": shown,
                    "text": None if withheld else text,
                    "n": 2,
                    "spread": abs(rng.gauss(0, s / 4)),
                    "uncertainty": 0.0024139,
                    "flags": flags,
                    "route": name,
                    "withheld": withheld,
                }
            )
            rounded = float(text)
            fails = (lower is not None and rounded < lower) or (upper is not None and rounded > upper)
            declined = "withheld" if withheld else "bath temperature out of range" if flags else None
            judged.append(
                {
                    **key,
                    "limit_id": f"{name}-{at or ''}",
                    "lower": lower,
                    "upper": upper,
                    "value": None if withheld else rounded,
                    "verdict": "not_judged" if declined else "fail" if fails else "pass",
                    "reason": declined,
                    "source": "example set, table 3",
                    "flags": flags,
                    "set_id": "example",
                    "decision_rule": "simple",
                    "guard": None,
                }
            )
    return values, judged, missing


def _specimens(samples: list[dict], values: list[dict], rng: random.Random) -> tuple[list[dict], list[dict]]:
    rows, inputs = [], []
    known = {(v["sample_id"], v["property"], v["point"]): v for v in values}
    decimals = {row[0]: row[4] for row in PROPERTIES}
    for sample in samples:
        label = sample["sample_id"]
        sets = [("t166", "gmb", None, 2.35, 3), ("t209", "gmm", None, 2.47, 2)]
        for name, at, method, count in [
            ("pb", None, "t308", 1),
            ("rut_depth", 20000.0, "t324", 2),
            ("passing", 0.075, "t30", 1),
        ]:
            result = known.get((label, name, at))
            if result and result["value"] is not None:
                sets.append((method, name, at, result["value"], count))
        for method, name, at, mean, count in sets:
            for number in range(1, count + 1):
                value = mean * (1 + rng.gauss(0, 0.002))
                no = ("left", "right")[number - 1] if method == "t324" else str(number)
                rows.append(
                    {
                        "sample_id": label,
                        "method": method,
                        "specimen_no": no,
                        "property": name,
                        "point": at,
                        "value": value,
                        "text": half_even(value, decimals[name]),
                        "flags": "absorption_high" if rng.random() < 0.02 else None,
                        "withheld": None,
                    }
                )
        for number in range(1, 4):
            for line, (field, mass) in enumerate(
                [("mass_dry", 4712.3), ("mass_submerged", 2742.1), ("mass_ssd", 4717.9), ("water_temperature", 25.1)]
            ):
                inputs.append(
                    {
                        "sample_id": label,
                        "method": "t166",
                        "specimen_no": str(number),
                        "field": field,
                        "value_text": f"{mass} {'°C' if 'temp' in field else 'g'}",
                        "file_name": "journal-0507.csv",
                        "place": f"line {4 + 4 * number + line}",
                        "raw_line": f"{number};2026-05-07 09:1{line}:05;{label};{number};bulk;dry;;{mass};",
                        "instrument_id": "QL-2",
                    }
                )
        inputs.append(
            {
                "sample_id": label,
                "method": "t209",
                "specimen_no": "1",
                "field": "mass_dry",
                "value_text": "1502.4 g",
                "file_name": "slip-0705.txt",
                "place": "line 7",
                "raw_line": "DRY IN AIR           1502.4  g",
                "instrument_id": "QL-3",
            }
        )
    return rows, inputs


def _curves(samples: list[dict], rng: random.Random, passes: int) -> tuple[list[dict], list[dict]]:
    dense, rut = [], []
    for order, sample in enumerate(samples):
        for number in ("1", "2"):
            base = 85 + rng.gauss(0, 0.6)
            dense += [
                {
                    "sample_id": sample["sample_id"],
                    "specimen_no": number,
                    "gyration": g,
                    "gmm_pct": base + 5.4 * math.log10(max(g, 1)),
                }
                for g in range(1, 101)
            ]
        if order % 4 == 0:
            for wheel in ("left", "right"):
                end = abs(rng.gauss(7, 2)) + 1
                rut += [
                    {
                        "sample_id": sample["sample_id"],
                        "specimen_no": "1",
                        "wheel": wheel,
                        "wheel_pass": p,
                        "depth_mm": end * (p / 20000) ** 0.45,
                    }
                    for p in range(50, passes + 1, 50)
                ]
    return dense, rut


def _frame(rows: list[dict], name: str) -> pl.DataFrame:
    from plugins.renderers.verbs.tables import TABLES

    return (
        pl.DataFrame(rows, schema_overrides=dict(TABLES[name]), infer_schema_length=None)
        if rows
        else pl.DataFrame(schema=TABLES[name])
    )


def tables(projects: int = 5, per_project: int = 18, seed: int = 7, passes: int = 20000) -> dict[str, pl.DataFrame]:
    """Return all tables, the same for the same arguments."""
    rng = random.Random(seed)
    places, samples = _register(projects, per_project, rng)
    values, judged, missing = _figures(samples, rng)
    specimens, inputs = _specimens(samples, values, rng)
    dense, rut = _curves(samples, rng, passes)
    rows: dict[str, list[dict]] = {
        "run": [
            {
                "run_id": 12,
                "finished_at": "2026-05-14 17:02:11",
                "version": "0.1.0",
                "rounding": "an exact half to the even digit (ASTM E29)",
            }
        ],
        "projects": [
            {
                "project_id": p[0],
                "project_name": p[1],
                "character": p[2],
                "client": "Invented roads agency",
                "laboratory_id": p[3],
                "laboratory_name": p[4],
                "region": p[5],
                "set_id": "example",
            }
            for p in places
        ],
        "samples": samples,
        "properties": [
            dict(
                zip(
                    ("property", "symbol", "name", "unit", "decimals", "standard", "section", "equation", "level"),
                    row[:9],
                    strict=True,
                )
            )
            for row in PROPERTIES
        ],
        "flags": [
            {
                "code": "bath_temperature",
                "sentence": "The water bath was outside the range of the method.",
                "limit_text": "25 ± 1 °C",
                "source": "AASHTO T 166",
            },
            {
                "code": "absorption_high",
                "sentence": "Water absorption is too high for the surface-dry procedure.",
                "limit_text": "at most 2.00 %",
                "source": "AASHTO T 166",
            },
        ],
        "sample_values": values,
        "specimen_values": specimens,
        "judgements": judged,
        "missing": missing,
        "refusals": [
            {
                "file_name": "press-0412.txt",
                "place": "line 37",
                "stage": "read",
                "code": "not_a_number",
                "sample_id": None,
                "project_id": None,
                "reason": "'12O.3' is not a number; a height in mm was expected",
                "remedy": "Correct the value at the instrument and export again.",
            },
            {
                "file_name": "journal-0507.csv",
                "place": None,
                "stage": "read",
                "code": "truncated",
                "sample_id": None,
                "project_id": None,
                "reason": "the journal has no End line: 14 entries announced, 9 found",
                "remedy": "Export the journal again.",
            },
            {
                "file_name": "track-0509.txt",
                "place": "whole file",
                "stage": "match",
                "code": "unknown_sample",
                "sample_id": "HB-0999",
                "project_id": places[0][0] if places else None,
                "reason": "sample HB-0999 is not in the register",
                "remedy": "Register the sample; the file is taken up by itself.",
            },
        ],
        **invented_work.tables(samples, missing),
        **invented_mixes.tables(samples),
        **(lots := invented_lots.tables(samples)),
        **invented_overview.tables(samples, lots["lots"]),
        "inputs": inputs,
        "densification": dense,
        "rut": rut,
    }
    return {name: _frame(frame, name) for name, frame in rows.items()}
