"""Weighings that contradict each other -> the rows concerned, each with what is wrong and what to do."""

from collections.abc import Iterator

import polars as pl

from pipeline.derive.engine import Frames
from pipeline.derive.rows import without_validity
from pipeline.formulas.model import Check, Table
from pipeline.formulas.registry import Registry, table_of
from schemas.vocabulary import MassRole, Stage

CODE = "contradiction"
_SPECIMEN = ["sample_id", "specimen_no"]


def contradictions(frames: Frames, registry: Registry, weighing: pl.DataFrame) -> pl.DataFrame:
    """Return one refusal (stage derive) per weighing that takes part in a contradiction."""
    schema = without_validity("refusal")
    found = [
        _rows(frames[table], table, check, weighing)
        for table, check in _withholding(registry)
        if not frames[table].is_empty()
    ]
    return (
        pl.concat([pl.DataFrame(schema=schema), *found])
        .unique(["export_hash", "source_part", "source_line", "reason"], maintain_order=True)
        .sort("sample_id", "export_hash", "source_line", "reason")
    )


def _withholding(registry: Registry) -> Iterator[tuple[Table, Check]]:
    seen: set[tuple[Table, Check]] = set()
    for formula in registry.formulas:
        if formula.by_hand_only:
            continue
        for check in formula.checks:
            key = (table_of(formula), check)
            if check.remedy is not None and key not in seen:
                seen.add(key)
                yield key


def _rows(frame: pl.DataFrame, table: Table, check: Check, weighing: pl.DataFrame) -> pl.DataFrame:
    broken = (
        frame.filter(~check.holds(*(pl.col(name) for name in check.inputs)).fill_null(True)).select(_SPECIMEN).unique()
    )
    masses = [
        role.value for role in MassRole if any(f"{name}_".startswith(f"mass_{role.value}_") for name in check.inputs)
    ]
    concerned = weighing.filter(pl.col("role").is_in(masses) & (pl.col("method") == table[1])).join(
        broken, on=_SPECIMEN, how="semi"
    )
    reason = pl.format("specimen {}: {} ({} is required)", "specimen_no", pl.lit(check.sentence), pl.lit(check.limit))
    given = {
        "stage": pl.lit(Stage.DERIVE.value),
        "code": pl.lit(CODE),
        "record": pl.lit("weighing"),
        "column_name": pl.lit("mass_g"),
        "found": pl.format("{} g ({})", "mass_g", "role"),
        "reason": reason,
        "remedy": pl.lit(check.remedy),
    }
    return concerned.select(
        given.get(name, pl.col(name)).cast(dtype).alias(name) for name, dtype in without_validity("refusal").items()
    )
