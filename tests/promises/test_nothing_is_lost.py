"""The bytes of every export are kept, unchanged, under their hash; what was refused is taken up again when mended."""

import hashlib
from pathlib import Path

import pytest

from pipeline import intake
from pipeline.workspace import Workspace
from tests.support import drop, exports, run
from warehouse.read import connect

REGISTER = ("register_book/*", "mix_card/*", "limits_card/*")


def count(lab: Workspace, sql: str) -> int:
    with connect(lab.root) as connection:
        row = connection.execute(sql).fetchone()
    assert row is not None
    return int(row[0])


def test_every_byte_is_kept_under_its_hash(demo: Workspace) -> None:
    kept = {path.name for path in demo.kept.glob("??/*")}
    given = {hashlib.sha256(path.read_bytes()).hexdigest() for path in exports("**/*")}
    assert kept == given
    for path in demo.kept.glob("??/*"):
        assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name


def test_the_inbox_is_left_as_it_was(demo: Workspace) -> None:
    given = {path.relative_to(path.parents[1]).as_posix(): path.read_bytes() for path in exports("*/*")}
    assert {path.relative_to(demo.inbox).as_posix(): path.read_bytes() for path in demo.inbox.glob("*/*")} == given


def test_every_export_is_accounted_for(demo: Workspace) -> None:
    hashes = {arrival.hash for arrival in intake.journal(demo)}
    assert count(demo, "select count(*) from exports") == len(hashes)
    silent = """select count(*) from exports e where rows_accepted = 0
                and not exists (from refusals r where r.file_name = e.name)"""
    assert count(demo, silent) == 0


def test_rows_of_an_unknown_sample_wait_for_its_register(lab: Workspace) -> None:
    drop(lab, exports("balance_journal/*")[:6])
    run(lab)
    waiting = "select count(*) from refusals where code = 'unknown_sample'"
    assert count(lab, waiting) > 0
    assert count(lab, "select count(*) from property_values") == 0
    drop(lab, exports(*REGISTER))
    run(lab)
    assert count(lab, waiting) == 0
    assert count(lab, "select count(*) from property_values") > 0


def test_a_torn_journal_line_loses_no_file(lab: Workspace) -> None:
    drop(lab, exports(*REGISTER))
    run(lab)
    whole = lab.journal.read_bytes()
    lab.journal.write_bytes(whole[:-20])
    drop(lab, exports("balance_journal/*")[:2])
    run(lab)
    names = {arrival.name for arrival in intake.journal(lab)}
    assert {path.relative_to(lab.inbox).as_posix() for path in lab.inbox.glob("*/*")} == names


def test_a_link_and_a_hidden_file_are_not_followed(lab: Workspace, tmp_path: Path) -> None:
    secret = tmp_path / "secret.csv"
    secret.write_text("not for the pipeline")
    try:
        (lab.inbox / "link.csv").symlink_to(secret)
    except OSError:
        pytest.skip("this system does not let us make links")
    (lab.inbox / ".hidden.csv").write_text("x")
    assert [each.name for each in intake.sightings(lab.inbox)] == []
