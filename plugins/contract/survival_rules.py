"""What an importer makes of exports that are cut, re-encoded, rearranged, spoilt or endless."""

from collections.abc import Callable, Iterable, Iterator

import polars as pl

from plugins.api import Export, Reading
from plugins.contract import compare, documents, hostile, trial
from plugins.contract.model import NotApplicable, Subject, World, rows_of
from plugins.contract.registry import rule
from plugins.promise import broken


def _survives(subject: Subject, world: World, variants: Iterable[hostile.Variant], exact: bool = True) -> Iterator[str]:
    """Read variants of a whole example in one batch and yield what is amiss with each.

    `exact` holds every row against the whole example; otherwise it is enough that no more rows come out of it.
    """
    original, whole = subject.whole(world)
    made = [(variant, world.export(variant.content, original.name)) for variant in variants]
    made = list({export.hash: (variant, export) for variant, export in made}.values())
    if not made:
        raise NotApplicable("the example cannot be changed in this way")
    exports = [export for _, export in made]
    reading = trial.read(subject.importer, exports, world.limit)
    for told in broken(reading, subject.importer, exports):
        yield told
        return
    titles = {export.hash: variant.title for variant, export in made}
    for export in compare.answered(reading, exports):
        yield f"{titles[export.hash]}: neither rows nor a refusal came back"
    for _, export in made:
        faults = compare.amiss(whole, reading, export, compare.PLACE) if exact else _spoilt(whole, reading, export)
        yield from (f"{titles[export.hash]}: {told}" for told in faults)


def _spoilt(whole: Reading, copy: Reading, export: Export) -> Iterator[str]:
    for record, frame in rows_of(copy).items():
        got, had = compare.of(frame, export).height, whole.frames.get(record, frame.clear()).height
        if got > had:
            yield f"{record}: {got} rows come out of {had}"
    yield from compare.dumb(compare.of(copy.refused, export))


@rule("an export cut off anywhere is refused, or read as far as it goes and not a digit further")
def survives_truncation(subject: Subject, world: World) -> Iterator[str]:
    """Cut at the ends of lines, in their middle and inside numbers."""
    original, whole = subject.whole(world)
    content = original.path.read_bytes()
    warned = bool(subject.note and subject.note.is_file() and "cut" in subject.note.read_text("utf-8"))
    made = [(variant, world.export(variant.content, original.name)) for variant in hostile.truncated(content)]
    reading = trial.read(subject.importer, [export for _, export in made], world.limit)
    for variant, export in made:
        lines = len(variant.content.splitlines())
        whole_lines = variant.content.endswith((b"\n", b"\r"))
        part = Reading(
            {record: _within(frame, lines if whole_lines else lines - 1) for record, frame in whole.frames.items()}
        )
        faults = _cut_amiss(part, whole, reading, export, warned and whole_lines)
        yield from (f"{variant.title}: {told}" for told in faults)


def _within(frame: pl.DataFrame, lines: int) -> pl.DataFrame:
    """Return the rows that stand on lines a cut has left whole."""
    if "source_part" in frame.columns:
        return frame.filter(pl.col("source_part").is_null() & (pl.col("source_line") <= lines))
    return frame.filter(pl.col("source_line") <= lines)


def _cut_amiss(part: Reading, whole: Reading, copy: Reading, export: Export, lenient: bool) -> Iterator[str]:
    """Yield invented rows, and rows of whole lines that are missing although nothing was refused.

    Where the note warns of it (`lenient`), a row may lack values that stood behind the cut; it never has other ones.
    """
    for record, frame in rows_of(copy).items():
        strange = compare.strange_rows(
            whole.frames.get(record, frame.clear()), compare.of(frame, export), ("export_hash",)
        )
        if lenient:
            strange = _other_values(whole.frames.get(record), strange)
        if strange.height:
            yield f"{record}: line {strange['source_line'][0]} gives a row the whole export does not have"
    refused = compare.of(copy.refused, export)
    if not refused.height:
        for record, frame in rows_of(part).items():
            got = compare.of(copy.frames[record], export).height if record in copy.frames else 0
            if got < frame.height:
                yield f"{record}: {got} of {frame.height} whole rows are read, and nothing was refused"
    yield from compare.dumb(refused)


def _other_values(whole: pl.DataFrame | None, strange: pl.DataFrame) -> pl.DataFrame:
    """Return the rows that have a value the whole export's row on their line does not have."""
    if whole is None or not strange.height:
        return strange
    names = [name for name in strange.columns if name not in ("export_hash", "source_line")]
    joined = strange.join(whole.unique("source_line"), on="source_line", how="left", suffix=" whole")
    other = [pl.col(name).is_not_null() & pl.col(name).ne_missing(pl.col(f"{name} whole")) for name in names]
    return joined.filter(pl.any_horizontal(other))


@rule("an empty export is refused as that")
def survives_emptiness(subject: Subject, world: World) -> Iterator[str]:
    """Read exports without content."""
    made = [(variant, world.export(variant.content)) for variant in hostile.nothing()]
    reading = trial.read(subject.importer, [export for _, export in made], world.limit)
    for variant, export in made:
        if any(compare.of(frame, export).height for frame in reading.frames.values()):
            yield f"{variant.title}: rows come out of nothing"
        if not compare.of(reading.refused, export).height:
            yield f"{variant.title}: nothing is refused"
        yield from (f"{variant.title}: {told}" for told in compare.dumb(compare.of(reading.refused, export)))


def _text_variants(
    subject: Subject, world: World, make: Callable[[bytes], Iterator[hostile.Variant]]
) -> list[hostile.Variant]:
    content = subject.whole(world)[0].path.read_bytes()
    if not hostile.is_text(content):
        raise NotApplicable("its exports are not text")
    return list(make(content))


@rule("line ends of another system are read alike or refused")
def survives_line_ends(subject: Subject, world: World) -> Iterator[str]:
    """Exchange the line ends."""
    yield from _survives(subject, world, _text_variants(subject, world, hostile.line_ends))


@rule("a byte-order mark more or less is read alike or refused")
def survives_marks(subject: Subject, world: World) -> Iterator[str]:
    """Add a byte-order mark, or take it away."""
    yield from _survives(subject, world, _text_variants(subject, world, hostile.marked))


@rule("a copy in another encoding is read alike or refused")
def survives_encodings(subject: Subject, world: World) -> Iterator[str]:
    """Save the example in other encodings."""
    yield from _survives(subject, world, _text_variants(subject, world, hostile.reencoded))


@rule("columns and header lines in another order are read by their names or refused")
def survives_moving(subject: Subject, world: World) -> Iterator[str]:
    """Turn and reverse columns, keys or attributes, and exchange two header lines."""
    content = subject.whole(world)[0].path.read_bytes()
    made = list(documents.moved(content))
    if not made and hostile.is_text(content):
        made = [*hostile.moved_columns(content), *hostile.moved_header(content)]
    yield from _survives(subject, world, made)


@rule("a column or a header line more is left alone or refused")
def survives_surplus(subject: Subject, world: World) -> Iterator[str]:
    """Add a column, key, attribute or header line nobody asked for."""
    content = subject.whole(world)[0].path.read_bytes()
    made = list(documents.surplus(content))
    if not made and hostile.is_text(content):
        made = [*hostile.extra_columns(content), *hostile.extra_header(content)]
    yield from _survives(subject, world, made)


@rule("hostile bytes anywhere are refused or read as text, and never make it fail")
def survives_hostile_bytes(subject: Subject, world: World) -> Iterator[str]:
    """Put markup, formulas, NUL bytes, long fields and random bytes into the example."""
    content = subject.whole(world)[0].path.read_bytes()
    yield from _survives(subject, world, hostile.spoilt(content), exact=False)


@rule("noise without end is refused, in time and without reading all of it")
def survives_noise(subject: Subject, world: World) -> Iterator[str]:
    """Read a megabyte of noise behind the head of an example, and 100 MB of it."""
    content = subject.whole(world)[0].path.read_bytes()
    yield from _survives(subject, world, [hostile.long_noise(content)], exact=False)
    path = hostile.endless(content, world.folder / "endless")
    export = Export(path.name, "e" * 64, path, path.stat().st_size, content[:8192])
    reading = trial.read(subject.importer, [export], world.limit)
    if any(compare.of(frame, export).height for frame in reading.frames.values()):
        yield "100 MB of noise: rows come out of it"
    codes = compare.of(reading.refused, export)["code"].to_list()
    if codes != ["too_large"]:
        yield f"100 MB of noise: expected one refusal 'too_large', got {', '.join(codes[:3]) or 'none'}"
