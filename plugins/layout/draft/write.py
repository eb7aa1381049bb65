"""Writes a proposal as TOML: the sure as it is, the doubtful with a remark, the lacking as a remark to fill."""

import json
import re
from collections.abc import Mapping
from typing import Any

from plugins.layout.draft import match, values
from plugins.layout.draft.found import LEAST, SURE, Found, Note
from plugins.layout.draft.match import RecordDraft, Tie
from schemas.describe import ColumnDescription, describe

_BARE = re.compile(r"^[A-Za-z0-9_-]+$")


def toml(value: Any) -> str:
    """Return a value as TOML on one line; patterns stand in single quotation marks."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return (
            f"'{value}'"
            if "\\" in value and "'" not in value and "\n" not in value
            else json.dumps(value, ensure_ascii=False)
        )
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(key)} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml(one) for one in value) + "]"
    return str(value)


def _key(key: str) -> str:
    return key if _BARE.match(key) else json.dumps(key, ensure_ascii=False)


def layout(name: str, title: str, found: Found, family: str, drafts: list[RecordDraft]) -> str:
    """Return the whole proposal."""
    writing = dict(found.writing)
    writing |= _forms(found, drafts)
    lists, words = _words(found, drafts)
    parts = [
        f"# Drafted from {title}. Lines that end in `# ?` are guesses: look at each, and take the remark away.",
        f"name = {toml(name)}",
        'version = "1"',
        f"title = {toml(title)}",
        f"kind = {toml(found.kind)}",
        *_section("recognise", found.recognise, _doubt(found.notes, "recognise")),
        *_section("file", writing, _doubt(found.notes, "date")),
        *_section("header", {key: value for key, value in found.header.items() if not isinstance(value, dict)}, ""),
        *(
            line
            for key, value in found.header.items()
            if isinstance(value, dict)
            for line in _section(f"header.{key}", value, "")
        ),
        *_section("block", found.block, _doubt(found.notes, "blocks")),
    ]
    if found.table is not None and found.kind != "slip":
        parts += _section(f"tables.{found.table_name}", found.table, _doubt(found.notes, "end of table"))
    parts += lists
    for draft in drafts:
        parts += _record(found, draft, words)
    return "\n".join(parts) + "\n"


def _doubt(notes: list[Note], what: str) -> str:
    note = next((one for one in notes if one.what == what), None)
    return f"  # ? {note.reason}" if note and note.confidence < SURE else ""


def _section(name: str, data: Mapping[str, Any], doubt: str) -> list[str]:
    if not data:
        return []
    lines = [f"{_key(key)} = {toml(value)}" for key, value in data.items()]
    return ["", f"[{name}]", *lines[:-1], lines[-1] + doubt]


def _forms(found: Found, drafts: list[RecordDraft]) -> dict[str, list[str]]:
    """Return the forms of dates the export writes, and note where day and month cannot be told apart."""
    forms: dict[str, list[str]] = {}
    for draft in drafts:
        description = describe(draft.record)
        for tie in draft.ties:
            column = description.column(tie.target) if tie.target in description.schema() else None
            if column is None or tie.place is None or not column.dtype.is_temporal():
                continue
            known = values.date_forms(tie.place.texts)
            if not known:
                continue
            if len({form.replace("%d", "?").replace("%m", "?") for form in known}) < len(known):
                found.note(
                    "date", tie.place.texts[0], "day and month could be the other way round; check one you know", 0.5
                )
            timed = "%H" in known[0] or "%I" in known[0]
            keys = ("datetimes",) if timed else ("datetimes", "dates")
            for key in keys:
                forms.setdefault(key, [])
                forms[key] += [form for form in known[:1] if form not in forms[key]]
    return forms


def _words(found: Found, drafts: list[RecordDraft]) -> tuple[list[str], dict[str, str]]:
    """Return the look-up lists for words of the export, and field -> list."""
    lines: list[str] = []
    lists: dict[str, str] = {}
    for draft in drafts:
        description = describe(draft.record)
        for tie in draft.ties:
            column = description.column(tie.target) if tie.target in description.schema() else None
            if column is None or not column.words or tie.place is None or tie.target in lists:
                continue
            texts = list(dict.fromkeys(text for text in tie.place.texts if text.strip()))
            if all(text in column.words for text in texts):
                continue
            lists[tie.target] = tie.target
            lines += ["", f"[words.{tie.target}]", *(_word(text, column) for text in texts)]
    return lines, lists


def _word(text: str, column: ColumnDescription) -> str:
    word, sure = match.word_of(text, column)
    if sure < LEAST:
        return f"# {_key(text)} = one of {', '.join(column.words or ())}  # ? not known"
    return f"{_key(text)} = {toml(word)}" + ("" if sure >= SURE else "  # ?")


def _record(found: Found, draft: RecordDraft, words: Mapping[str, str]) -> list[str]:
    lines = ["", "[[record]]", f"record = {toml(draft.record)}"]
    if draft.table:
        lines.append(f"table = {toml(found.table_name)}")
    if draft.present:
        lines.append(f"present = {toml(draft.present)}")
    if draft.repeat:
        lines.append(f"repeat = {toml(draft.repeat)}")
    lines.append("[record.fields]")
    description = describe(draft.record)
    for tie in draft.ties:
        known = tie.target in description.schema()
        unit = description.column(tie.target).unit if known else None
        doubt = "" if tie.confidence >= SURE else f"  # ? {tie.reason}"
        lines.append(f"{_key(tie.target)} = {toml(_field(tie, unit, words))}{doubt}")
    for column in draft.lacking:
        lines.append(
            f'# {column.name} = {{ constant = "" }}  # NEEDED: {column.sentence} {column.expected().capitalize()}.'
        )
    return lines


def _field(tie: Tie, unit: str | None, words: Mapping[str, str]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    if tie.place is not None:
        made["header" if tie.place.header else "column"] = tie.place.name
        if tie.place.nth > 1:
            made["value"] = tie.place.nth
    made |= tie.keys
    if tie.place is not None and tie.target in words:
        made["words"] = words[tie.target]
    if tie.place is not None and unit is not None and "unit" not in made:
        made["unit"] = tie.place.unit or unit
    return made
