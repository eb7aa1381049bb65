"""Small invented exports for the warehouse's tests: weighings, register, heights, depths, results."""

from datetime import date, datetime, timedelta
from typing import Any

import polars as pl

from schemas.describe import describe
from schemas.validate import conform
from warehouse.store import Store

START = datetime(2026, 5, 7, 8, 0)
NO_REFUSALS = pl.DataFrame(schema=describe("refusal").schema())


def exports(*hashes: str, state: str = "read", arrivals: int = 1, run_id: int = 1) -> pl.DataFrame:
    """Give the rows of the result `export` for these hashes."""
    rows = [
        {
            "export_hash": name,
            "name": f"{name}.txt",
            "size_bytes": 10,
            "received_at": START,
            "arrivals": arrivals,
            "run_id": run_id,
            "state": state,
            "rows_accepted": 1,
            "rows_refused": 0,
        }
        for name in hashes
    ]
    return pl.DataFrame(rows, schema=describe("export").schema())


def traced(record: str, *rows: dict[str, Any]) -> pl.DataFrame:
    """Give rows of an imported record; what a row leaves out is null, its line its place in the list."""
    filled = [{"source_line": line, **row} for line, row in enumerate(rows, start=1)]
    return conform(pl.DataFrame(filled, infer_schema_length=None), record)


def weighing(
    export_hash: str, mass_g: float, hour: int | None, sample_id: str = "QX-0001", **more: Any
) -> dict[str, Any]:
    """Give one dry mass, written `hour` hours after the start; None is an export without a date."""
    issued_at = None if hour is None else START + timedelta(hours=hour)
    return {
        "export_hash": export_hash,
        "issued_at": issued_at,
        "sample_id": sample_id,
        "specimen_no": "1",
        "method": "t166",
        "role": "dry",
        "mass_g": mass_g,
        **more,
    }


def sample(export_hash: str, sample_id: str, **more: Any) -> dict[str, Any]:
    """Give one register entry."""
    return {
        "export_hash": export_hash,
        "sample_id": sample_id,
        "project_id": "ridge road",
        "mix_id": "M-12",
        "material": "mix",
        "phase": "production",
        "laboratory_id": "QX",
        "taken_on": date(2026, 5, 6),
        **more,
    }


def design(export_hash: str, revision: int, valid_from: date, **more: Any) -> dict[str, Any]:
    """Give one revision of the mix design M-12."""
    return {
        "export_hash": export_hash,
        "mix_id": "M-12",
        "revision": revision,
        "valid_from": valid_from,
        "nmas_mm": 12.5,
        **more,
    }


def put(store: Store, run_id: int, *hashes: str, refusals: pl.DataFrame = NO_REFUSALS, **frames: pl.DataFrame) -> None:
    """Put frames of these exports in a transaction of their own."""
    store.begin()
    store.put(run_id, exports(*hashes, run_id=run_id), frames, refusals)
    store.commit()


def refusal(export_hash: str | None, code: str = "not_a_number", **more: Any) -> dict[str, Any]:
    """Give one refusal of the stage `read`."""
    return {"stage": "read", "code": code, "export_hash": export_hash, "reason": "x", "remedy": "y", **more}


def refusals(*rows: dict[str, Any]) -> pl.DataFrame:
    """Give refusals without their validity."""
    schema = {name: dtype for name, dtype in describe("refusal").schema().items() if not name.startswith("valid_")}
    return pl.DataFrame(list(rows), schema=schema)


def figure(sample_id: str, name: str, value: float | None, **more: Any) -> dict[str, Any]:
    """Give one figure of a sample."""
    return {
        "sample_id": sample_id,
        "level": "sample",
        "property": name,
        "value": value,
        "route": name,
        "formula_version": "f1",
        **more,
    }


def figures(*rows: dict[str, Any]) -> pl.DataFrame:
    """Give figures without their validity."""
    schema = {n: dtype for n, dtype in describe("property_value").schema().items() if not n.startswith("valid_")}
    return pl.DataFrame(list(rows), schema=schema)


def judgements(*verdicts: tuple[str, str, str], **more: Any) -> pl.DataFrame:
    """Give judgements of samples by their limits, (sample, limit, verdict) each, without their validity."""
    given = [
        {"sample_id": name, "limit_id": limit, "verdict": verdict, "set_id": "SET", **more}
        for name, limit, verdict in verdicts
    ]
    schema = {n: dtype for n, dtype in describe("judgement").schema().items() if not n.startswith("valid_")}
    return pl.DataFrame(given, schema=schema)


def subjects(*sample_ids: str) -> pl.DataFrame:
    """Give a frame of samples."""
    return pl.DataFrame({"sample_id": list(sample_ids)}, schema={"sample_id": pl.String})


def heights(export_hash: str, sample_id: str, values: list[float]) -> dict[str, pl.DataFrame]:
    """Give a compaction run and its heights, gyration 0 first."""
    common = {"export_hash": export_hash, "issued_at": START, "sample_id": sample_id, "specimen_no": "1"}
    run = {**common, "stop_rule": "gyrations", "gyrations": max(1, len(values) - 1)}
    rows = [{**common, "gyration": at, "height_mm": value} for at, value in enumerate(values)]
    return {"compaction_run": traced("compaction_run", run), "compaction_height": traced("compaction_height", *rows)}


def depths(export_hash: str, sample_id: str, values: list[float]) -> dict[str, pl.DataFrame]:
    """Give a wheel run and its depths, the same at every position but for a tenth more each."""
    common = {
        "export_hash": export_hash,
        "issued_at": START,
        "sample_id": sample_id,
        "specimen_no": "1",
        "wheel": "left",
    }
    run = {**common, "passes": 50 * len(values)}
    rows = [
        {**common, "wheel_pass": 50 * at} | {f"depth_{place:02d}_mm": value + place / 10 for place in range(1, 12)}
        for at, value in enumerate(values)
    ]
    return {"wheel_run": traced("wheel_run", run), "wheel_depth": traced("wheel_depth", *rows)}
