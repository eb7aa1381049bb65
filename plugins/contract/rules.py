"""The rules an importer has to keep, one function each; callable without pytest."""

import random
from collections.abc import Callable, Iterable, Iterator
from itertools import islice

import polars as pl

from plugins.api import Export, Reading
from plugins.contract import compare, hostile, trial
from plugins.contract.model import NotApplicable, Rule, Subject, World, rows_of
from plugins.contract.places import Places, numbers_in, stands
from plugins.promise import broken
from schemas.describe import describe
from schemas.validate import conform, validate

#: At most so many findings are told per rule: the first ones say what is wrong.
_TOLD = 5

#: Most lines a row may have for itself.
_BLOCK = 40

RULES: dict[str, Rule] = {}

Check = Callable[[Subject, World], Iterator[str]]


def rule(sentence: str) -> Callable[[Check], Check]:
    """Register a check under the name of its function."""

    def register(check: Check) -> Check:
        RULES[check.__name__] = Rule(check.__name__, sentence, lambda subject, world: islice(check(subject, world), _TOLD))
        return check

    return register


@rule("name, version and records are given, and the records exist")
def says_what_it_is(subject: Subject, world: World) -> Iterator[str]:
    """Look at name, version and `gives`."""
    one = subject.importer
    if not (isinstance(one.name, str) and one.name.replace("-", "_").isidentifier()):
        yield f"the name {one.name!r} is no short name of letters, digits and underscores"
    if not (isinstance(one.version, str) and one.version.strip()):
        yield f"the version {one.version!r} is no text: rows could not be traced to the reader that made them"
    if not one.gives:
        yield "it names no record in `gives`"
    for record in one.gives:
        try:
            imported = describe(record).imported
        except KeyError:
            imported = False
        if not imported:
            yield f"there is no record '{record}' an importer may hand in"


@rule("a README.md says what is not read")
def says_what_it_leaves(subject: Subject, world: World) -> Iterator[str]:
    """Look for the words `not read` in the note."""
    if subject.note is None or not subject.note.is_file():
        yield "there is no README.md beside it: instrument, how the export is made, what is not read, hazards"
    elif "not read" not in subject.note.read_text("utf-8").casefold():
        yield "its README.md does not say what is not read"


@rule("it claims each of its own examples, and says why")
def claims_its_examples(subject: Subject, world: World) -> Iterator[str]:
    """Ask about every example."""
    if not subject.examples:
        yield "it has no examples: put at least one export into samples/"
    for example in subject.examples:
        reason = trial.claims(subject.importer, Export.from_path(example), world.limit)
        if reason is None:
            yield f"{example.name} is not claimed"
        elif not (isinstance(reason, str) and reason.strip()):
            yield f"{example.name} is claimed without a reason; two claimants could not be told apart"


@rule("it claims no example of another importer")
def claims_no_stranger(subject: Subject, world: World) -> Iterator[str]:
    """Ask about the examples of all other importers present."""
    strangers = {name: paths for name, paths in world.strangers.items() if name != subject.importer.name}
    if not strangers:
        raise NotApplicable("no example of another importer is installed")
    for name, paths in strangers.items():
        for example in paths:
            if trial.claims(subject.importer, Export.from_path(example), world.limit) is not None:
                yield f"{example.name}, an export of {name}, is claimed; make the recognition narrower"
                break


@rule("it claims nothing that is of no kind: empty, random, prose, foreign documents")
def claims_no_noise(subject: Subject, world: World) -> Iterator[str]:
    """Ask about exports of no kind at all."""
    for variant in hostile.strange_heads():
        if trial.claims(subject.importer, world.export(variant.content), world.limit) is not None:
            yield f"{variant.title} is claimed"


@rule("each record it gives occurs in an example")
def shows_every_record(subject: Subject, world: World) -> Iterator[str]:
    """Read the chosen examples, and all of them where a record is missing so far."""
    shown: set[str] = set()
    for example in subject.chosen():
        shown |= set(rows_of(subject.reading(example, world)[1]))
    if set(subject.importer.gives) - shown:
        exports = [Export.from_path(example) for example in subject.examples]
        shown |= set(rows_of(trial.read(subject.importer, exports, 10 * world.limit)))
    for record in subject.importer.gives:
        if record not in shown:
            yield f"no example shows a '{record}', so nothing tests how it is read"


@rule("what is read of an example equals the records written down for it")
def equals_the_expected(subject: Subject, world: World) -> Iterator[str]:
    """Compare with the expected records, column by column."""
    compared = 0
    for example in subject.examples:
        expected = subject.expected_of(example)
        if not expected:
            continue
        compared += 1
        _, reading = subject.reading(example, world)
        got = {**rows_of(reading), **({"refused": reading.refused} if reading.refused.height else {})}
        for record in sorted({*expected, *got}):
            if record not in got or record not in expected:
                yield f"{example.name}: {record} is {'expected' if record in expected else 'read'}, but not the other way"
                continue
            yield from (f"{example.name}: {told}" for told in _unlike(expected[record].read_text("utf-8"), got[record], record))
    if not compared:
        yield "no expected records are written down: write them with `mixledger contract NAME --accept` and read them"


def written(frame: pl.DataFrame) -> str:
    """Return records as they are written down: without the hash, in the order of places."""
    return (
        _placed(frame)
        .drop("export_hash")
        .sort("source_part", "source_line", maintain_order=True)
        .write_csv(datetime_format="%Y-%m-%dT%H:%M:%S")
    )


def _placed(frame: pl.DataFrame) -> pl.DataFrame:
    types = {"source_part": pl.String(), "source_line": pl.Int64()}
    return frame.with_columns(pl.lit(None, kind).alias(name) for name, kind in types.items() if name not in frame.columns)


def _unlike(expected: str, frame: pl.DataFrame, record: str) -> Iterator[str]:
    wanted, got = expected.splitlines(), written(frame).splitlines()
    heads = [_cells(lines[0]) for lines in (wanted, got)]
    if set(heads[0]) != set(heads[1]):
        yield f"{record}: other columns than expected ({', '.join(sorted(set(heads[0]) ^ set(heads[1])))})"
        return
    if len(wanted) != len(got):
        yield f"{record}: {len(got) - 1} rows, expected {len(wanted) - 1}"
        return
    for number, (left, right) in enumerate(zip(wanted[1:], got[1:], strict=True), start=1):
        one, two = dict(zip(heads[0], _cells(left), strict=False)), dict(zip(heads[1], _cells(right), strict=False))
        for name in heads[0]:
            if one.get(name) != two.get(name):
                yield f"{record}, row {number}: '{name}' is {two.get(name)!r}, expected {one.get(name)!r}"
                return


def _cells(line: str) -> list[str]:
    import csv

    return next(csv.reader([line]), [])


@rule("the same export read twice gives the same")
def same_twice(subject: Subject, world: World) -> Iterator[str]:
    """Read each chosen example a second time, and compare order included."""
    for example in subject.chosen():
        export, first = subject.reading(example, world)
        second = trial.read(subject.importer, [export], world.limit)
        yield from (f"{example.name}: {told}" for told in compare.differences(first, second))
        if all(first.frames[name].equals(second.frames.get(name, pl.DataFrame())) for name in first.frames):
            continue
        yield f"{example.name}: the rows come in another order"


@rule("a batch in any order gives what its exports give one by one")
def same_in_a_batch(subject: Subject, world: World) -> Iterator[str]:
    """Read the chosen examples and a spoilt one together, in two orders."""
    singly = [subject.reading(example, world) for example in subject.chosen()]
    spoilt = world.export(singly[0][0].path.read_bytes()[:100], "cut") if singly else None
    if spoilt is not None:
        singly.append((spoilt, trial.read(subject.importer, [spoilt], world.limit)))
    exports = [export for export, _ in singly]
    for _ in range(2):
        random.Random(5).shuffle(exports)  # noqa: S311
        batch = trial.read(subject.importer, exports, world.limit)
        for export, alone in singly:
            frames = {record: compare.of(frame, export) for record, frame in rows_of(batch).items()}
            mine = Reading(frames, compare.of(batch.refused, export))
            yield from (f"{export.name}: {told} (alone, then in a batch)" for told in compare.differences(alone, mine))


@rule("it hands back records, places and refusals in the agreed shape")
def keeps_the_shape(subject: Subject, world: World) -> Iterator[str]:
    """Look at the shape of what is read of the chosen examples and of an empty batch."""
    for example in subject.chosen():
        export, reading = subject.reading(example, world)
        yield from (f"{example.name}: {told}" for told in broken(reading, subject.importer, [export]))
    yield from (f"no export: {told}" for told in broken(trial.read(subject.importer, [], world.limit), subject.importer, []))


@rule("every row of an example keeps the schema of its record")
def keeps_the_schema(subject: Subject, world: World) -> Iterator[str]:
    """Validate what is read without a refusal."""
    export, reading = subject.whole(world)
    for record, frame in rows_of(reading).items():
        checked = validate(frame, record)
        for reason in checked.refused["reason"].head(1):
            yield f"{export.name}, {record}: {reason}"
        lost = [n for n in frame.columns if conform(frame, record)[n].null_count() > frame[n].null_count()]
        if lost:
            yield f"{export.name}, {record}: values of '{lost[0]}' are of another type than the record's and would be lost"


@rule("each row names the line on which its values stand")
def names_the_line(subject: Subject, world: World) -> Iterator[str]:
    """Look the values of every row up in the export."""
    looked_at = 0
    for example in subject.chosen():
        _, reading = subject.reading(example, world)
        places = Places(example)
        for record, frame in rows_of(reading).items():
            starts = sorted(set(frame["source_line"].drop_nulls()))
            for row in frame.head(60).iter_rows(named=True):
                told = _misplaced(row, record, places, starts)
                looked_at += told is not None
                if told:
                    yield f"{example.name}, {record}: {told}"
    if not looked_at:
        raise NotApplicable("the places its rows name cannot be looked up in this format")


def _misplaced(row: dict[str, object], record: str, places: Places, starts: list[int]) -> str | None:
    """Return what is wrong with the place of a row, nothing where it is right, None where it cannot be looked up.

    `starts` are the lines of all rows of the record: a row that opens a block has it up to the next row for itself.
    """
    part, line = row.get("source_part"), row.get("source_line")
    if not isinstance(line, int) or line < 1:
        return f"a row names no line ({line!r})"
    count = places.count(part if isinstance(part, str) else None)
    if count is None:
        return None
    where = f"{part}, line {line}" if part else f"line {line}"
    if line > count:
        return f"{where} does not exist; there are {count}"
    part = part if isinstance(part, str) else None
    end = next((start for start in starts if start > line), line + _BLOCK)
    block = [places.at(part, number) or "" for number in range(line, min(end, line + _BLOCK))]
    own = _standing(row, record, "\n".join(block))
    around = set().union(*(_standing(row, record, places.at(part, n) or "") for n in (line - 1, end)))
    measured = {column.name for column in describe(record).columns if column.unit}
    if own - around or own & measured or (own and not around - own):
        return ""
    if line == 1 and _standing(row, record, places.anywhere()):
        return ""  # a row of the whole export: its values stand in the header
    if around - own:
        return f"'{sorted(around - own)[0]}' does not stand on {where} but on a line beside it"
    return f"no value of the row stands on {where}"


def _standing(row: dict[str, object], record: str, text: str) -> set[str]:
    numbers = numbers_in(text)
    units = {column.name: column.unit for column in describe(record).columns}
    return {
        name
        for name, value in row.items()
        if name not in compare.PLACE and name in units and stands(value, units[name], text, numbers)
    }


@rule("no row is handed in twice")
def no_row_twice(subject: Subject, world: World) -> Iterator[str]:
    """Look for rows of one export that agree in the key of their record and in their place."""
    for example in subject.chosen():
        _, reading = subject.reading(example, world)
        for record, frame in rows_of(reading).items():
            names = [name for name in (*describe(record).ties.key, "source_part", "source_line") if name in frame.columns]
            twice = frame.filter(pl.struct(names).is_duplicated())
            if twice.height:
                yield f"{example.name}, {record}: line {twice['source_line'][0]} is handed in {twice.height} times"


@rule("reading leaves the export as it is")
def leaves_the_export(subject: Subject, world: World) -> Iterator[str]:
    """Read a copy and compare its bytes."""
    for example in subject.chosen()[:1]:
        content = example.read_bytes()
        copy = world.export(content, example.name)
        try:
            trial.read(subject.importer, [copy], world.limit)
        except trial.ImpureAttemptError as fault:
            yield str(fault)
        if not copy.path.exists() or copy.path.read_bytes() != content:
            yield f"{example.name}: its bytes are no longer what they were"


@rule("it opens no connection, starts no process and writes no file")
def is_pure(subject: Subject, world: World) -> Iterator[str]:
    """Watch what is tried while an example is looked at and read."""
    for example in subject.chosen()[:1]:
        export = Export.from_path(example)
        for ask in (trial.claims, lambda one, it, limit: trial.read(one, [it], limit)):
            try:
                ask(subject.importer, export, world.limit)
            except trial.ImpureAttemptError as fault:
                yield str(fault)


@rule("an answer comes in time")
def answers_in_time(subject: Subject, world: World) -> Iterator[str]:
    """Ask and read within the limit; a hang is told by the question itself."""
    for example in subject.chosen()[:1]:
        trial.claims(subject.importer, Export.from_path(example), world.limit)
        trial.read(subject.importer, [Export.from_path(example)], world.limit)
    yield from ()


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
        faults = compare.amiss(whole, reading, export, _PLACE) if exact else _spoilt(whole, reading, export)
        yield from (f"{titles[export.hash]}: {told}" for told in faults)


_PLACE = compare.PLACE


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
        part = Reading({record: _within(frame, lines if whole_lines else lines - 1) for record, frame in whole.frames.items()})
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
        strange = compare.strange_rows(whole.frames.get(record, frame.clear()), compare.of(frame, export), ("export_hash",))
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


def _text_variants(subject: Subject, world: World, make: Callable[[bytes], Iterator[hostile.Variant]]) -> list[hostile.Variant]:
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
    """Turn and reverse the columns of the table, and exchange two header lines."""
    moved = _text_variants(subject, world, hostile.moved_columns) + _text_variants(subject, world, hostile.moved_header)
    yield from _survives(subject, world, moved)


@rule("a column more is left alone or refused")
def survives_surplus(subject: Subject, world: World) -> Iterator[str]:
    """Add a column nobody asked for."""
    yield from _survives(subject, world, _text_variants(subject, world, hostile.extra_columns))


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


@rule("every refusal says what is wrong and what to do")
def speaks_clearly(subject: Subject, world: World) -> Iterator[str]:
    """Look at the refusals of the examples and of an example cut in half."""
    for example in subject.chosen():
        yield from (f"{example.name}: {told}" for told in compare.dumb(subject.reading(example, world)[1].refused))
    for example in subject.chosen()[:1]:
        content = example.read_bytes()
        half = world.export(content[: len(content) // 2] or b"?", example.name)
        reading = trial.read(subject.importer, [half], world.limit)
        yield from (f"half of {example.name}: {told}" for told in compare.dumb(reading.refused))
        if not reading.refused.height and not rows_of(reading):
            yield f"half of {example.name}: neither rows nor a refusal came back"
