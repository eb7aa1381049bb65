"""Weighings that contradict each other -> the rows concerned, each with what is wrong and what to do."""

from collections.abc import Iterator

import polars as pl

from pipeline.derive.engine import Frames
from pipeline.derive.rows import without_validity
from pipeline.formulas.model import Check, Formula
from pipeline.formulas.registry import Registry, table_of
from schemas.vocabulary import MassRole, Method, Stage

CODE = "contradiction"
_SPECIMEN = ["sample_id", "specimen_no"]


def contradictions(frames: Frames, registry: Registry, weighing: pl.DataFrame) -> pl.DataFrame:
    """Return one refusal (stage derive) per weighing that takes part in a contradiction."""
    schema = without_validity("refusal")
    found = [
        _rows(frames[table_of(formula)], formula, check, weighing)
        for formula, check in _withholding(registry)
        if not frames[table_of(formula)].is_empty()
    ]
    return (
        pl.concat([pl.DataFrame(schema=schema), *found])
        .unique(["export_hash", "source_part", "source_line", "reason"], maintain_order=True)
        .sort("sample_id", "export_hash", "source_line", "reason")
    )


def _withholding(registry: Registry) -> Iterator[tuple[Formula, Check]]:
    seen: set[tuple[Method | None, Check]] = set()
    for formula in registry.formulas:
        if formula.by_hand_only:
            continue
        for check in formula.checks:
            key = (formula.method, check)
            if check.remedy is not None and key not in seen:
                seen.add(key)
                yield formula, check


def _is_of(name: str, role: MassRole) -> bool:
    """Return whether a figure is the mass of a role, or a sum of such masses."""
    return name == f"mass_{role.value}" or (role is MassRole.RETAINED and name.startswith("mass_retained_"))


def _rows(frame: pl.DataFrame, formula: Formula, check: Check, weighing: pl.DataFrame) -> pl.DataFrame:
    broken = (
        frame.filter(~check.kept(*(pl.col(formula.column(name)) for name in check.inputs)).fill_null(True))
        .select(_SPECIMEN)
        .unique()
    )
    masses = [role.value for role in MassRole if any(_is_of(name, role) for name in check.inputs)]
    concerned = weighing.filter(pl.col("role").is_in(masses) & (pl.col("method") == formula.method)).join(
        broken, on=_SPECIMEN, how="semi"
    )
    reason = pl.format(
        "specimen {}: {} ({} is required)", "specimen_no", pl.lit(check.sentence), pl.lit(check.limit_text)
    )
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
