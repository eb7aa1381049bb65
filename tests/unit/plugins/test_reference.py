"""The reference of the layout language is the model: every key a shipped layout uses stands in it."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from pipeline.cli.group import group
from plugins.layout import reference
from tests.support import ROOT

LAYOUTS = sorted((ROOT / "plugins" / "importers").glob("*/layout.toml"))
BY_NAME = {section.section: {key.key for key in section.keys} for section in reference.sections()}


def used(path: Path) -> Iterator[tuple[str, str]]:
    """Yield section and key of everything a layout states."""
    data: dict[str, Any] = tomllib.loads(path.read_text("utf-8"))
    records = data.pop("record")
    common = data.pop("common", {})
    for key, value in data.items():
        yield "top of the layout", key
        if f"[{key}]" in BY_NAME:
            yield from ((f"[{key}]", inner) for inner in value)
        for table in value.values() if key == "tables" else ():
            yield from (("[tables.<name>]", inner) for inner in table)
    for record in records:
        yield from (("[[record]]", key) for key in record if key != "fields")
    for fields in (common, *(record["fields"] for record in records)):
        for field in fields.values():
            yield from (("[record.fields] and [common]: each field", key) for key in field)


def test_every_key_of_the_shipped_layouts_is_explained() -> None:
    seen = {found for path in LAYOUTS for found in used(path)}
    assert len(seen) > 40
    assert [(section, key) for section, key in sorted(seen) if key not in BY_NAME[section]] == []


def test_every_key_has_a_sentence_and_every_kind_is_one() -> None:
    for section in reference.sections():
        for key in section.keys:
            assert key.sentence.endswith("."), key
            assert set(key.kinds) <= {"delimited", "fixed", "slip", "json", "toml", "xml", "workbook", "sqlite"}


def test_the_command_prints_the_page_and_the_fields_of_a_record() -> None:
    page = CliRunner().invoke(group, ["layouts"])
    assert page.output == reference.markdown() and "## [tables.<name>.gather]" in page.output
    fields = CliRunner().invoke(group, ["layouts", "weighing"])
    assert "mass_g" in fields.output and "at least 0 and at most 100000 g" in fields.output
    unknown = CliRunner().invoke(group, ["layouts", "weighting"])
    assert unknown.exit_code == 2 and "there is no record 'weighting'; records are " in unknown.output
