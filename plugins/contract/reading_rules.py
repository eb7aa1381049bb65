"""What an importer says of itself, what it claims, and what it reads of its examples."""

import random
from collections.abc import Iterator

import polars as pl

from plugins.api import Export, Reading
from plugins.contract import compare, hostile, trial
from plugins.contract.compare import written
from plugins.contract.model import NotApplicable, Subject, World, rows_of
from plugins.contract.places import Places
from plugins.contract.registry import rule
from plugins.contract.standing import misplaced
from plugins.promise import broken
from schemas.describe import describe
from schemas.validate import conform, validate


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
        got = rows_of(reading)
        if "refused" in expected and reading.refused.height:
            got["refused"] = reading.refused
        for record in sorted({*expected, *got}):
            if record not in got or record not in expected:
                said = "expected and not read" if record in expected else "read and not expected"
                yield f"{example.name}: {record} is {said}"
                continue
            yield from (
                f"{example.name}: {told}" for told in _unlike(expected[record].read_text("utf-8"), got[record], record)
            )
    if not compared:
        yield "no expected records are written down: write them with `mixledger contract NAME --accept` and read them"


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
    yield from (
        f"no export: {told}" for told in broken(trial.read(subject.importer, [], world.limit), subject.importer, [])
    )


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
            yield f"{export.name}, {record}: '{lost[0]}' is of another type than the record's; values would be lost"


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
                told = misplaced(row, record, places, starts)
                looked_at += told is not None
                if told:
                    yield f"{example.name}, {record}: {told}"
    if not looked_at:
        raise NotApplicable("the places its rows name cannot be looked up in this format")


@rule("no row is handed in twice")
def no_row_twice(subject: Subject, world: World) -> Iterator[str]:
    """Look for rows of one export that agree in the key of their record and in their place."""
    for example in subject.chosen():
        _, reading = subject.reading(example, world)
        for record, frame in rows_of(reading).items():
            names = [
                name for name in (*describe(record).ties.key, "source_part", "source_line") if name in frame.columns
            ]
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
        try:
            trial.claims(subject.importer, export, world.limit)
            reading = trial.read(subject.importer, [export], world.limit)
        except trial.ImpureAttemptError as fault:
            yield str(fault)
        else:
            # What runs in a process of its own is watched there, and says so in a refusal.
            yield from compare.dumb(reading.refused)


@rule("an answer comes in time")
def answers_in_time(subject: Subject, world: World) -> Iterator[str]:
    """Ask and read within the limit; a hang is told by the question itself."""
    for example in subject.chosen()[:1]:
        trial.claims(subject.importer, Export.from_path(example), world.limit)
        trial.read(subject.importer, [Export.from_path(example)], world.limit)
    yield from ()


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
