"""The tables a page is made of: name, columns and types; what is not handed in is empty."""

from collections.abc import Collection, Mapping

import polars as pl

_WORDS: dict[str, str] = {
    "projects": "project_id project_name character client laboratory_id laboratory_name region set_id",
    "flags": "code sentence limit_text source",
    "refusals": "file_name place stage code sample_id project_id reason remedy",
    "run": "run_id finished_at version rounding",
    "presentation": "units decimal_mark date_format language",
    "inputs": "sample_id method specimen_no field value_text file_name place raw_line instrument_id",
    # How figures were really found; method is null for those of the sample itself.
    "ways": "sample_id method property standard equation",
}


def _text(names: str) -> dict[str, pl.DataType]:
    return {name: pl.String() for name in names.split()}


def _whole(names: str) -> dict[str, pl.DataType]:
    return {name: pl.Int64() for name in names.split()}


def _numbers(names: str) -> dict[str, pl.DataType]:
    return {name: pl.Float64() for name in names.split()}


#: Table -> column -> type, as the caller of the renderers hands them in.
TABLES: dict[str, dict[str, pl.DataType]] = {
    **{name: _text(columns) for name, columns in _WORDS.items()},
    "samples": {
        **_text("sample_id project_id mix_id revision material phase laboratory_id lot sublot"),
        "taken_on": pl.Date(),
        "place": pl.String(),
        "tonnage_t": pl.Float64(),
        "nmas_mm": pl.Float64(),
        **_text("binder_grade plant"),
    },
    "properties": {
        **_text("property symbol name unit"),
        "decimals": pl.Int64(),
        **_text("standard section equation level"),
    },
    "sample_values": {
        **_text("sample_id property"),
        "point": pl.Float64(),
        "value": pl.Float64(),
        "text": pl.String(),
        "n": pl.Int64(),
        "spread": pl.Float64(),
        "uncertainty": pl.Float64(),
        **_text("flags route withheld"),
    },
    "specimen_values": {
        **_text("sample_id method specimen_no property"),
        **_numbers("point value uncertainty"),
        **_text("text flags withheld"),
    },
    "judgements": {
        **_text("sample_id property"),
        "point": pl.Float64(),
        "limit_id": pl.String(),
        "lower": pl.Float64(),
        "upper": pl.Float64(),
        "value": pl.Float64(),
        **_text("verdict reason source flags set_id decision_rule"),
        "guard": pl.Float64(),
    },
    "missing": {**_text("project_id sample_id property"), "point": pl.Float64(), "reason": pl.String()},
    "densification": {
        **_text("sample_id specimen_no"),
        "gyration": pl.Int64(),
        "gmm_pct": pl.Float64(),
    },
    "rut": {
        **_text("sample_id specimen_no wheel"),
        "wheel_pass": pl.Int64(),
        "depth_mm": pl.Float64(),
    },
    "work": {
        **_text("state kind project_id mix_id lot sample_id"),
        "since": pl.Date(),
        "due_on": pl.Date(),
        **_text("sentence remedy"),
    },
    "arrivals": {
        "importer": pl.String(),
        "month": pl.Date(),
        **_whole("exports duplicates refused_exports partly_exports rows_accepted rows_refused"),
        **_whole("refusals_standing rows_superseded"),
    },
    "lapsed": {
        **_text("instrument_id kind laboratory_id"),
        "last_due_on": pl.Date(),
        "sample_id": pl.String(),
        "tested_on": pl.Date(),
        "specimens": pl.Int64(),
    },
    "drift": {
        **_text("instrument_id kind laboratory_id record"),
        "quarter": pl.Date(),
        "property": pl.String(),
        "point": pl.Float64(),
        **_whole("specimens mixes"),
        "mean_off_mix": pl.Float64(),
        "deviation_off_mix": pl.Float64(),
        "shift": pl.Float64(),
    },
    "mixes": {
        "mix_id": pl.String(),
        "revision": pl.Int64(),
        "valid_from": pl.Date(),
        **_text("project_id plant"),
        "nmas_mm": pl.Float64(),
        **_text("binder_grade traffic layer"),
        **_numbers("pb_pct gmm air_voids_pct vma_pct"),
        **_whole("n_initial n_design n_maximum"),
        **_numbers("recycled_pct maximum_size_mm"),
    },
    "mix_phases": {
        **_text("mix_id project_id"),
        "revision": pl.Int64(),
        "property": pl.String(),
        **_numbers("point target verification startup production"),
        "production_samples": pl.Int64(),
        **_numbers("production_deviation production_less_target production_less_verification production_less_startup"),
    },
    "mix_gradation": {
        "mix_id": pl.String(),
        "revision": pl.Int64(),
        **_numbers("sieve_mm passing_pct"),
    },
    "mix_bands": {
        "mix_id": pl.String(),
        "revision": pl.Int64(),
        "sieve_mm": pl.Float64(),
        "basis": pl.String(),
        **_numbers("lower upper"),
    },
    "mix_states": {
        **_text("mix_id project_id"),
        "event_no": pl.Int64(),
        "taken_on": pl.Date(),
        **_text("sample_id purpose"),
        "out": pl.Boolean(),
        **_text("failed state"),
    },
    # The latest revision only.
    "stockpile": {
        **_text("mix_id stockpile source"),
        "revision": pl.Int64(),
        **_numbers("share_pct gsb gsa"),
    },
    "mix_gravity": {"mix_id": pl.String(), "revision": pl.Int64(), "gsb_blend": pl.Float64()},
    # Results in time order, the latest ones; how many there are in all stands in the totals.
    "mix_trends": {
        **_text("mix_id project_id sample_id property verdict flags"),
        "revision": pl.Int64(),
        "taken_on": pl.Date(),
        **_numbers("point value target lower upper"),
    },
    "mix_trend_totals": {
        **_text("mix_id property"),
        **_whole("samples outside flagged"),
        **_numbers("point target lower upper"),
    },
    # Means of the wheels of a sample, and of its specimens, thinned to what a chart can show.
    "mix_rut": {
        **_text("mix_id sample_id verdict"),
        "taken_on": pl.Date(),
        **_whole("wheels wheel_pass"),
        "depth_mm": pl.Float64(),
    },
    "mix_rut_limits": {**_text("mix_id binder_grade"), **_numbers("passes depth_mm"), "source": pl.String()},
    "mix_density": {
        **_text("mix_id sample_id phase"),
        "taken_on": pl.Date(),
        **_whole("specimens gyration"),
        "gmm_pct": pl.Float64(),
    },
    "lots": {
        **_text("project_id mix_id lot plan_id property"),
        "point": pl.Float64(),
        **_whole("n left_out"),
        **_numbers("mean s target lower upper within_pct pay_pct weight composite_pct"),
        **_text("composite_rule consequence"),
        **dict.fromkeys(("retest", "removal", "outlier"), pl.Boolean()),
        **_text("pay_rule reason source mark"),
    },
    # Cores and gauge places along the pavement; offset is negative on the left.
    "density_places": {
        **_text("project_id mix_id lot sample_id specimen_no property"),
        **_numbers("point station offset"),
        "place_unit": pl.String(),
        **_numbers("value lower upper"),
        **_text("text basis side withheld flags replaced_by"),
    },
    "charts": {
        **_text("project_id mix_id property"),
        "point": pl.Float64(),
        "sample_id": pl.String(),
        "taken_on": pl.Date(),
        "place_no": pl.Int64(),
        **_numbers("value target centre lower_control upper_control"),
        **_text("signals published"),
    },
}

#: Tables that only renderers on request are handed (`mixledger report`): what leaves the laboratory.
REPORT_TABLES: dict[str, dict[str, pl.DataType]] = {
    # From sampling to the result: readings by the clocks of the instruments, arrivals in UTC.
    "chain": {
        "sample_id": pl.String(),
        **dict.fromkeys(("arrived_at", "first_tested_at", "last_tested_at"), pl.Datetime("us")),
    },
    "sample_instruments": {
        **_text("sample_id instrument_id kind method"),
        **dict.fromkeys(("first_on", "last_on"), pl.Date()),
        "readings": pl.Int64(),
        **dict.fromkeys(("calibrated_on", "due_on"), pl.Date()),
        "state": pl.String(),
    },
    "specifications": {
        **_text("set_id title set_version agency"),
        "valid_from": pl.Date(),
        "guard_factor": pl.Float64(),
        "rounding": pl.String(),
    },
    # The reports to be made, one row each: issued now, or (as_of) as it was known at a moment, which issues nothing.
    "reports": {
        **_text("report_no sample_id"),
        "issue_no": pl.Int64(),
        "issued_at": pl.Datetime("us"),
        "figures_run": pl.Int64(),
        "figures_at": pl.Datetime("us"),
        **_text("replaces reason remark as_of"),
    },
    "report_chain": {
        **_text("sample_id report_no"),
        "issue_no": pl.Int64(),
        "issued_at": pl.Datetime("us"),
        **_text("replaces reason"),
    },
    "report_changes": _text("report_no part item field before after why"),
}
TABLES |= REPORT_TABLES


#: Tables of the summary: what is compared is computed before it is handed in.
_CELL: dict[str, pl.DataType] = {**_text("project_id property"), "point": pl.Float64()}
TABLES |= {
    "project_figures": {
        **_CELL,
        "n": pl.Int64(),
        **_numbers("mean s least most"),
        **_whole("passed failed in_doubt left_out"),
        "failing_pct": pl.Float64(),
    },
    "project_limits": {**_CELL, **_numbers("lower upper")},
    "project_trend": {
        **_CELL,
        "sample_id": pl.String(),
        "taken_on": pl.Date(),
        **_numbers("value lower upper"),
        "verdict": pl.String(),
    },
    "project_totals": {
        "project_id": pl.String(),
        "samples": pl.Int64(),
        **dict.fromkeys(("first_on", "last_on", "active_on"), pl.Date()),
        **_whole("passed failed in_doubt"),
        "failing_pct": pl.Float64(),
    },
    "project_worst": {
        **_text("project_id sample_id property"),
        **_numbers("point value lower upper"),
        "verdict": pl.String(),
        "away": pl.Float64(),
    },
    "project_places": {**_text("project_id laboratory_id plant binder_grade"), "samples": pl.Int64()},
    "lot_figures": {
        **_text("project_id plan_id property"),
        "point": pl.Float64(),
        **_whole("lots lots_within"),
        **_numbers("within_mean within_least pay_mean pay_least"),
        **_whole("reduced retests removals"),
    },
    "laboratories": {
        **_text("laboratory_id laboratory_name region"),
        "samples": pl.Int64(),
        "last_on": pl.Date(),
        "timed": pl.Int64(),
        **_numbers("days_median days_longest"),
        **_whole("duplicates duplicates_beyond"),
    },
    "laboratory_figures": {
        "laboratory_id": pl.String(),
        "year": pl.Int64(),
        "property": pl.String(),
        "point": pl.Float64(),
        **_whole("samples doubtful"),
        **_numbers("mean_off_target deviation_off_target repeatability"),
        "specimens": pl.Int64(),
    },
    "laboratory_bias": {
        **_text("first second property"),
        "point": pl.Float64(),
        "pairs": pl.Int64(),
        **_numbers("difference deviation chance significance"),
        **_text("verdict reason"),
    },
    "split_pairs": {**_text("first second sample_id other_id"), "taken_on": pl.Date()},
    "laboratory_refusals": {"laboratory_id": pl.String(), **_whole("refusals files")},
    "plants": {"plant": pl.String(), **_whole("samples mixes"), "last_on": pl.Date()},
    "plant_figures": {
        "plant": pl.String(),
        "year": pl.Int64(),
        "property": pl.String(),
        "point": pl.Float64(),
        **_whole("samples doubtful mixes"),
        **_numbers("mean_off_target deviation_off_target"),
        **_whole("judged failed"),
    },
}

#: Latest results per project and result in `project_trend`.
TREND = 30

#: Latest samples of a mix whose results and curves its page draws, and points of one of these curves.
MIX_SAMPLES, CURVE_POINTS = 400, 60

#: What names one result: at most one figure per sample stands under it.
RESULT_KEY = ["sample_id", "property", "point"]


def take(tables: Mapping[str, pl.DataFrame], name: str) -> pl.DataFrame:
    """Return a table with exactly its columns and types; a missing table is empty, a missing column null.

    Parameters
    ----------
    tables
        The tables handed in, by name.
    name
        One of `TABLES`.
    """
    schema = TABLES[name]
    frame = tables.get(name)
    if frame is None:
        return pl.DataFrame(schema=schema)
    columns = [
        (pl.col(column) if column in frame.columns else pl.lit(None)).cast(kind, strict=False).alias(column)
        for column, kind in schema.items()
    ]
    return frame.select(columns)


def of_samples(tables: Mapping[str, pl.DataFrame], ids: Collection[str] | None) -> Mapping[str, pl.DataFrame]:
    """Keep of every table that names samples the rows of these ones: joins then cost in proportion. None keeps all."""
    if ids is None:
        return tables
    chosen = pl.DataFrame({"sample_id": sorted(ids)}, schema={"sample_id": pl.String})
    return {
        name: frame.join(chosen, on="sample_id", how="semi", maintain_order="left")
        if "sample_id" in frame.columns
        else frame
        for name, frame in tables.items()
    }


def of_projects(tables: Mapping[str, pl.DataFrame], ids: frozenset[str] | None) -> dict[str, dict[str, pl.DataFrame]]:
    """Split the tables by project: what a project's page shows must rest on that project alone. None splits all."""
    owner = take(tables, "samples").select("sample_id", "project_id").drop_nulls().unique("sample_id", keep="first")
    owner, known = (within(frame, "project_id", ids) for frame in (owner, take(tables, "projects")))
    split = {name: dict(tables) for name in known["project_id"].drop_nulls().unique()}
    for table, whole in tables.items():
        frame = within(whole, "project_id", ids) if "project_id" in whole.columns else whole
        parts = _by_project(frame, owner)
        for name in split if parts is not None else ():
            split[name][table] = (parts or {}).get(name, frame.clear())
    return split


def _by_project(frame: pl.DataFrame, owner: pl.DataFrame) -> dict[object, pl.DataFrame] | None:
    """Return project -> its rows; None for a table that names neither projects nor samples."""
    if "project_id" in frame.columns:
        found = frame.partition_by("project_id", as_dict=True, maintain_order=True)
    elif "sample_id" in frame.columns:
        joined = frame.join(owner, on="sample_id", how="inner", maintain_order="left")
        found = joined.partition_by("project_id", as_dict=True, maintain_order=True, include_key=False)
    else:
        return None
    return {key: rows for (key,), rows in found.items()}


def within(frame: pl.DataFrame, column: str, ids: frozenset[str] | None) -> pl.DataFrame:
    """Return the rows whose id is in the scope; no scope is every row."""
    return frame if ids is None else frame.filter(pl.col(column).is_in(sorted(ids)))
