"""Accepted rows of checked files -> the figures they would give if they were run, in memory; nothing is written."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

import duckdb
import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.formulas import registry
from pipeline.settings import Results
from schemas.describe import describe, of_samples
from schemas.keys import SUPERSESSION
from schemas.vocabulary import Material
from warehouse.errors import NotPublishedError, WarehouseError
from warehouse.history import shaped
from warehouse.read import connect
from warehouse.series import header_key, is_stepped
from warehouse.sql import fetch, listed, quoted

#: Samples of a lot are derived together: what a core is compared with may stand in the loose mix beside it.
_LOT = ["project_id", "mix_id", "lot"]

#: What tells one figure from another.
_FIGURE = ["sample_id", "level", "method", "specimen_no", "property", "point"]


@dataclass(frozen=True)
class Foreseen:
    """What a run of the files would derive.

    Attributes
    ----------
    figures
        Rows of `property_value` without validity, with `symbol` and `unit`, of the samples the files observe: figures
        with their flags, and the reasons of those that cannot be derived. What would be the same without the files
        is left out.
    strangers
        Samples neither the workspace nor the files register: a run would keep their rows and wait. Their figures
        are derived without project, mix and material.
    register
        Where samples, mixes and instruments were looked up, in words.
    """

    figures: pl.DataFrame
    strangers: tuple[str, ...]
    register: str

    @property
    def flagged(self) -> pl.DataFrame:
        """Return the figures a check flags: sample, what it is of, property, point, value, unit, flags."""
        flagged = self.figures.filter(pl.col("value").is_not_null() & pl.col("flags").is_not_null())
        of = pl.concat_str("method", "specimen_no", separator=" ", ignore_nulls=True).replace("", "sample")
        return flagged.select("sample_id", of.alias("of"), "property", "point", "value", "unit", "flags")

    @property
    def withheld(self) -> pl.DataFrame:
        """Return what cannot be derived: each reason with the properties it keeps back, and in how many samples."""
        withheld = self.figures.filter(pl.col("value").is_null())
        each = withheld.with_columns(pl.col("withheld").str.split("; ").alias("why")).explode("why")
        properties = pl.col("property").unique(maintain_order=True).str.join(", ").alias("not derived")
        samples = pl.col("sample_id").n_unique().alias("samples")
        return each.group_by("why", maintain_order=True).agg(properties, samples)

    @property
    def codes(self) -> dict[str, str]:
        """Return flag -> what it says, of the flags there are."""
        said = dict(registry.load().flags().select("code", "sentence").rows())
        found = self.flagged["flags"].str.split(" ").explode().unique().sort()
        return {code: said[code] for code in found}


def foresee(frames: Mapping[str, pl.DataFrame], workspace: Path, parameters: Results) -> Foreseen:
    """Derive what the rows of the files give, with the workspace's current rows where it has a warehouse.

    Parameters
    ----------
    frames
        Accepted rows by record, as `pipeline.reading` gives them.
    workspace
        Folder of the workspace; one without a published warehouse adds nothing.
    parameters
        Named choices of the methods.
    """
    own = observed(frames)
    with _Stored(workspace, frames) as stored:
        sample = _merged("sample", frames, stored.rows("sample"))
        strangers = own.join(sample, on="sample_id", how="anti").sort("sample_id")
        lots = sample.join(own, on="sample_id", how="semi").select(_LOT).drop_nulls().unique()
        known = pl.concat([own, sample.join(lots, on=_LOT, how="semi").select("sample_id")]).unique()
        # What the register does not know is left out of a derivation: so a stranger gets an entry that says nothing.
        entered = pl.concat([sample.join(known, on="sample_id", how="semi"), shaped(strangers, describe("sample"))])
        inputs = {"sample": entered} | _inputs(frames, stored, known)
        before = {"sample": entered} | _inputs({}, stored, known)
    without = _derived(before, parameters)
    figures = _derived(inputs, parameters).join(
        without, on=[*_FIGURE, "value", "withheld", "flags"], how="anti", nulls_equal=True
    )
    if not strangers.is_empty():
        figures = pl.concat([figures, _by_material(inputs, figures, strangers, parameters)])
    told = registry.load().properties().select("property", "symbol", "unit")
    figures = figures.join(own, on="sample_id", how="semi", maintain_order="left")
    figures = figures.join(told, on="property", how="left", maintain_order="left")
    return Foreseen(figures, tuple(strangers["sample_id"]), stored.words)


def _derived(inputs: Mapping[str, pl.DataFrame], parameters: Results) -> pl.DataFrame:
    return derive(Inputs.of(**inputs), parameters, uncertainties=False).property_values


def _by_material(
    inputs: Mapping[str, pl.DataFrame], bare: pl.DataFrame, strangers: pl.DataFrame, parameters: Results
) -> pl.DataFrame:
    """Return, as figures withheld, those of the strangers that hang on their material, which the register tells."""
    found = []
    for material in Material:
        entered = shaped(strangers.with_columns(material=pl.lit(material.value)), describe("sample"))
        rows = _derived({**inputs, "sample": entered}, parameters).join(bare, on=_FIGURE, how="anti", nulls_equal=True)
        why = pl.coalesce("withheld", pl.lit("the material of the sample missing: it stands in the register"))
        found.append(rows.with_columns(pl.lit(None, pl.Float64).alias("value"), why.alias("withheld")))
    return pl.concat(found).unique(_FIGURE, maintain_order=True)


def observed(frames: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Return the samples (`sample_id`) the rows observe; entries of the register are no observations."""
    found = [frame.select("sample_id") for name, frame in frames.items() if name in of_samples() and name != "sample"]
    return pl.concat(found).unique().drop_nulls() if found else pl.DataFrame(schema={"sample_id": pl.String()})


def _inputs(frames: Mapping[str, pl.DataFrame], stored: "_Stored", known: pl.DataFrame) -> dict[str, pl.DataFrame]:
    names = [field.name for field in fields(Inputs) if field.name != "sample"]
    tables = [name for name in names if describe(name).ties.storage == "table"]
    found = {name: _merged(name, frames, stored.rows(name, known)) for name in tables}
    for name in (name for name in names if name not in tables):
        headers = found[describe(name).ties.header or ""]
        rows = _anew(name, frames, stored.rows(name, known))
        current = rows.join(headers, on=header_key(name), how="semi", nulls_equal=True)
        # The store keeps lengths to a millionth of a mm; a definition by equal heights sees the difference.
        lengths = [pl.col(column.name).round(6) for column in describe(name).columns if is_stepped(column)]
        order = list(dict.fromkeys([*header_key(name), *describe(name).ties.key]))
        found[name] = current.with_columns(lengths).sort(order, nulls_last=True)
    return found


def _anew(name: str, frames: Mapping[str, pl.DataFrame], stored: pl.DataFrame) -> pl.DataFrame:
    """Put the rows of the files beside those that are stored; files with the same bytes count once."""
    return pl.concat([stored, shaped(frames.get(name, pl.DataFrame()), describe(name)).unique()])


def _merged(name: str, frames: Mapping[str, pl.DataFrame], stored: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of a record that would be current: of one key the last by `SUPERSESSION`."""
    rows = _anew(name, frames, stored)
    order = [pl.coalesce("issued_at", "stated_at") if each == "issued_at" else pl.col(each) for each in SUPERSESSION]
    key = list(describe(name).ties.key)
    # In the order of the key, as the store gives them: the sum of a mean depends on it in the last bit.
    return rows.sort(order, descending=True, nulls_last=True).unique(key, keep="first").sort(key, nulls_last=True)


class _Stored:
    """The current rows of the workspace but for those of the files themselves, from its published copy, if any."""

    def __init__(self, workspace: Path, frames: Mapping[str, pl.DataFrame]) -> None:
        hashes = [frame.select("export_hash") for frame in frames.values()]
        self._own = pl.concat(hashes).unique() if hashes else pl.DataFrame(schema={"export_hash": pl.String()})
        self._connection: duckdb.DuckDBPyConnection | None = None
        try:
            self._connection = connect(workspace)
            self.words = "with the register of the workspace"
        except NotPublishedError:
            self.words = "by what the files alone say: no warehouse is published here"
        except WarehouseError as fault:
            self.words = f"by what the files alone say: {fault.sentence}"

    def __enter__(self) -> "_Stored":
        return self

    def __exit__(self, *_: object) -> None:
        if self._connection is not None:
            self._connection.close()

    def rows(self, name: str, samples: pl.DataFrame | None = None) -> pl.DataFrame:
        """Return current rows of a record, of these samples where it names samples."""
        description = describe(name)
        if self._connection is None:
            return shaped(pl.DataFrame(), description)
        conditions = ["valid_to_run IS NULL"] if description.ties.storage == "table" else []
        given: list[object] = []
        if samples is not None and "sample_id" in description.schema():
            conditions.append("list_contains(?, sample_id)")
            given = [samples["sample_id"].to_list()]
        where = f"WHERE {' AND '.join(conditions)}" if conditions else ""
        query = f"SELECT {listed(description.schema())} FROM {quoted(name)} {where}"
        return shaped(fetch(self._connection, query, given), description).join(self._own, on="export_hash", how="anti")
