"""New exports -> accepted rows per record and refusals: recognised one by one, read and validated by the batch."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import polars as pl

from pipeline.intake import Arrival
from pipeline.workspace import Workspace
from plugins.api import CATALOGUE, Export, Importer, Reading
from plugins.promise import broken
from schemas.describe import describe
from schemas.validate import validate
from schemas.vocabulary import ExportState, Stage

#: Exports are read together up to this many bytes at a time, so that memory stays bounded however large the backlog.
BATCH_BYTES = 192 << 20
HEAD_BYTES = 8192

#: Columns of a refusal before the store gives it its validity.
REFUSAL_SCHEMA: dict[str, pl.DataType] = {
    name: dtype for name, dtype in describe("refusal").schema().items() if not name.startswith("valid_")
}

_NO_REFUSALS = pl.DataFrame(schema=REFUSAL_SCHEMA)


class BrokenPromiseError(ValueError):
    """An importer handed back what no importer may hand back."""


@dataclass(frozen=True)
class Incoming:
    """One distinct export waiting to be read, with every name it arrived under."""

    export: Export
    names: tuple[str, ...]
    received_at: str


@dataclass(frozen=True)
class Batch:
    """Exports of one importer that are read together."""

    importer: Importer
    incoming: tuple[Incoming, ...]


@dataclass(frozen=True)
class Read:
    """What a batch gave: accepted rows per record, refusals, and which importer read which export."""

    frames: Mapping[str, pl.DataFrame]
    refusals: pl.DataFrame
    exports: pl.DataFrame


def gather(workspace: Workspace, arrivals: Iterable[Arrival]) -> list[Incoming]:
    """Bring arrivals with the same bytes together; one name stands for the export whatever the order."""
    grouped: dict[str, list[Arrival]] = defaultdict(list)
    for arrival in arrivals:
        grouped[arrival.hash].append(arrival)
    gathered = []
    for export_hash, same in grouped.items():
        # The shortest name is the original's, as a rule: copies are called "… (2)" or "… again".
        found = {each.name.encode("utf-8", "replace").decode() for each in same}
        names = tuple(sorted(found, key=lambda name: (len(name), name)))
        path = workspace.kept_file(export_hash)
        with path.open("rb") as kept:
            head = kept.read(HEAD_BYTES)
        export = Export(name=names[0], hash=export_hash, path=path, size=same[0].size, head=head)
        gathered.append(Incoming(export, names, min(each.received_at for each in same)))
    return gathered


def refusal(stage: Stage, code: str, **given: object) -> dict[str, object]:
    """Return one refusal row; title and remedy come from the catalogue of refusals unless given."""
    entry = CATALOGUE[code]
    row: dict[str, object] = dict.fromkeys(REFUSAL_SCHEMA)
    return row | {"stage": stage.value, "code": code, "reason": entry.title, "remedy": entry.remedy} | given


def refusal_frame(rows: Sequence[Mapping[str, object]]) -> pl.DataFrame:
    """Return refusal rows as a frame of `REFUSAL_SCHEMA`."""
    return pl.DataFrame(rows, schema=REFUSAL_SCHEMA, orient="row") if rows else _NO_REFUSALS


def _whole(incoming: Incoming, code: str, **given: object) -> dict[str, object]:
    stage = Stage.INTAKE if code in {"empty", "too_large"} else Stage.RECOGNISE
    return refusal(stage, code, export_hash=incoming.export.hash, **given)


def _claims(export: Export, importers: Sequence[Importer]) -> tuple[list[tuple[Importer, str]], list[str]]:
    claims, crashed = [], []
    for importer in importers:
        try:
            reason = importer.claims(export)
        except Exception as fault:  # a crashing plugin hurts only its own claim
            crashed.append(f"{importer.name} failed while looking at it: {type(fault).__name__}: {fault}")
            continue
        if reason is not None:
            claims.append((importer, reason))
    return claims, crashed


def recognise(
    incoming: Sequence[Incoming], importers: Sequence[Importer], largest_bytes: int, prefer: Sequence[str] = ()
) -> tuple[list[Batch], Read]:
    """Sort exports to the one importer that claims each; what none or several claim is refused with the reason.

    Parameters
    ----------
    prefer
        Names of importers: of several claimants the one named first reads the export.
    """
    groups: dict[str, list[Incoming]] = defaultdict(list)
    rows: list[dict[str, object]] = []
    refused: list[Incoming] = []
    for each in incoming:
        importer, row = _sort(each, importers, largest_bytes, prefer)
        if importer is not None:
            groups[importer.name].append(each)
        else:
            refused.append(each)
            rows.append(row)
    by_name = {importer.name: importer for importer in importers}
    batches = [
        Batch(by_name[name], tuple(part)) for name in sorted(groups) for part in _parts(groups[name], BATCH_BYTES)
    ]
    return batches, Read({}, refusal_frame(rows), _exports(refused, None, refusal_frame(rows), {}))


def _sort(
    each: Incoming, importers: Sequence[Importer], largest_bytes: int, prefer: Sequence[str]
) -> tuple[Importer | None, dict[str, object]]:
    export = each.export
    if export.size == 0:
        return None, _whole(each, "empty")
    if export.size > largest_bytes:
        reason = f"{export.size / (1 << 20):.0f} MB; the largest read is {largest_bytes / (1 << 20):.0f} MB"
        return None, _whole(each, "too_large", reason=reason)
    claims, crashed = _claims(export, importers)
    if len(claims) > 1:
        claims = _preferred(claims, prefer)
    if len(claims) == 1:
        return claims[0][0], {}
    if claims:
        said = "; ".join(f"{importer.name}: {reason}" for importer, reason in claims)
        return None, _whole(each, "two_importers", reason=f"claimed by more than one importer ({said})")
    if crashed:
        return None, _whole(each, "importer_failed", reason="; ".join(crashed))
    return None, _whole(each, "unknown_kind")


def _preferred(claims: list[tuple[Importer, str]], prefer: Sequence[str]) -> list[tuple[Importer, str]]:
    """Return the claim the settings prefer; all of them where they say nothing."""
    ranked = [claim for name in prefer for claim in claims if claim[0].name == name]
    return ranked[:1] or claims


def _parts(incoming: Sequence[Incoming], limit: int) -> Iterable[list[Incoming]]:
    part: list[Incoming] = []
    size = 0
    for each in incoming:
        if part and size + each.export.size > limit:
            yield part
            part, size = [], 0
        part.append(each)
        size += each.export.size
    if part:
        yield part


def read(batch: Batch) -> Read:
    """Read and validate one batch.

    A plugin that raises costs only its own exports: the batch is then read export by export, and the one that fails
    is refused with the plugin's name.
    """
    frames, refused = _read(batch.importer, [each.export for each in batch.incoming])
    accepted: dict[str, pl.DataFrame] = {}
    for record, frame in frames.items():
        checked = validate(frame, record)
        accepted[record] = checked.accepted
        refused.append(_refused(checked.refused, Stage.VALIDATE, "not_valid"))
    refusals = pl.concat(refused) if refused else refusal_frame([])
    return Read(accepted, refusals, _exports(batch.incoming, batch.importer, refusals, _counted(accepted, batch)))


def _counted(accepted: Mapping[str, pl.DataFrame], batch: Batch) -> dict[str, int]:
    """Return the rows accepted of each export."""
    if len(batch.incoming) == 1:
        return {batch.incoming[0].export.hash: sum(frame.height for frame in accepted.values())}
    counts: dict[str, int] = {}
    for frame in accepted.values():
        for export_hash, number in frame.group_by("export_hash").len().iter_rows():
            counts[export_hash] = counts.get(export_hash, 0) + number
    return counts


def _read(importer: Importer, exports: Sequence[Export]) -> tuple[Mapping[str, pl.DataFrame], list[pl.DataFrame]]:
    try:
        reading: Reading = importer.read(exports)
        wrong = next(broken(reading, importer, exports), None)
        if wrong is not None:
            raise BrokenPromiseError(wrong)
    except Exception as fault:  # a crashing plugin hurts only its own file
        if len(exports) == 1:
            said = str(fault) if isinstance(fault, BrokenPromiseError) else f"{type(fault).__name__}: {fault}"
            reason = f"importer '{importer.name}' failed: {said}"
            row = refusal(Stage.READ, "importer_failed", export_hash=exports[0].hash, reason=reason)
            return {}, [refusal_frame([row])]
        parts = [_read(importer, [export]) for export in exports]
        records = sorted({record for frames, _ in parts for record in frames})
        together = {
            record: pl.concat([frames[record] for frames, _ in parts if record in frames], how="diagonal")
            for record in records
        }
        return together, [refusals for _, each in parts for refusals in each]
    return reading.frames, [_refused(reading.refused, Stage.READ, None)]


def _refused(cells: pl.DataFrame, stage: Stage, code: str | None) -> pl.DataFrame:
    if cells.is_empty():
        return refusal_frame([])
    given = {name: pl.col(name) if name in cells.columns else pl.lit(None) for name in REFUSAL_SCHEMA}
    if code is not None:
        given |= {"code": pl.lit(code), "remedy": pl.lit(CATALOGUE[code].remedy)}
    given["stage"] = pl.lit(stage.value)
    # One line each, whatever stood in the export: the reason quotes it.
    given["reason"] = given["reason"].str.replace_all(r"\s*[\r\n]\s*", " ")
    return cells.select([given[name].cast(dtype).alias(name) for name, dtype in REFUSAL_SCHEMA.items()])


def _exports(
    incoming: Sequence[Incoming], importer: Importer | None, refusals: pl.DataFrame, accepted: Mapping[str, int]
) -> pl.DataFrame:
    refused = {} if refusals.is_empty() else dict(refusals.group_by("export_hash").len().iter_rows())
    rows = []
    for each in incoming:
        good, bad = accepted.get(each.export.hash, 0), refused.get(each.export.hash, 0)
        state = ExportState.REFUSED if not good and bad else ExportState.PARTLY if bad else ExportState.READ
        rows.append(
            (
                each.export.hash,
                each.names[0],
                each.export.size,
                datetime.fromisoformat(each.received_at),
                len(each.names),
                importer.name if importer else None,
                importer.version if importer else None,
                state.value,
                good,
                bad,
            )
        )
    schema = {name: dtype for name, dtype in describe("export").schema().items() if name != "run_id"}
    return pl.DataFrame(rows, schema=schema, orient="row")


def duplicates(incoming: Sequence[Incoming]) -> pl.DataFrame:
    """Return a refusal for every further name under which the same bytes arrived."""
    rows = [
        refusal(
            Stage.INTAKE,
            "duplicate",
            export_hash=each.export.hash,
            found=name,
            reason=f"'{name}' holds the same bytes as '{each.names[0]}'; nothing was counted twice",
        )
        for each in incoming
        for name in each.names[1:]
    ]
    return refusal_frame(rows)
