"""Publishing: whole or not at all, whatever is killed when, and readers keep what they opened."""

import os
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from tests.unit.warehouse import rows
from warehouse import files, publish, read
from warehouse.errors import NotPublishedError
from warehouse.sql import fetch
from warehouse.store import Store, open_store

ROOT = Path(__file__).parents[3]

#: A process that is at work on run 2 and dies at the named moment.
DIES = """
import os, signal, sys
from pathlib import Path
from tests.unit.warehouse import rows
from warehouse import files, publish
from warehouse.lock import writer
from warehouse.store import open_store

def die(*given, **named):
    os.kill(os.getpid(), signal.SIGKILL)

def copy_half(source, target):
    Path(target).write_bytes(Path(source).read_bytes()[:5000])
    die()

workspace, moment = Path(sys.argv[1]), sys.argv[2]
with writer(workspace / "store"):
    store = open_store(workspace / "store", workspace / "series")
    store.begin()
    frames = {"weighing": rows.traced("weighing", rows.weighing("b", 101.0, 2)), **rows.heights("b", "QX-0001", [99.0])}
    store.put(2, rows.exports("b", run_id=2), frames, rows.refusals())
    if moment == "inside the transaction":
        die()
    store.commit()
    if moment == "before publishing":
        die()
    if moment == "in the middle of the copy":
        files.shutil.copyfile = copy_half
    if moment == "before the copy has its name":
        files.settle = die
    if moment == "before the pointer moves":
        files.write_text = die
    if moment == "before old copies go":
        publish._clear = die
    publish.publish(store)
print("survived")
"""


def masses(workspace: Path) -> list[float]:
    with read.connect(workspace) as connection:
        return fetch(connection, "SELECT mass_g FROM weighing WHERE valid_to_run IS NULL")["mass_g"].to_list()


def heights(workspace: Path) -> list[float]:
    with read.connect(workspace) as connection:
        return fetch(connection, "SELECT height_mm FROM compaction_height")["height_mm"].to_list()


def first_run(workspace: Path) -> Path:
    with open_store(workspace / "store", workspace / "series") as store:
        frames = {"weighing": rows.traced("weighing", rows.weighing("a", 100.0, 1))}
        rows.put(store, 1, "a", **frames, **rows.heights("a", "QX-0001", [98.0]))
        return publish.publish(store)


@pytest.mark.skipif(os.name == "nt", reason="Windows knows no SIGKILL")
@pytest.mark.parametrize(
    ("moment", "seen"),
    [
        ("inside the transaction", 100.0),
        ("before publishing", 100.0),
        ("in the middle of the copy", 100.0),
        ("before the copy has its name", 100.0),
        ("before the pointer moves", 100.0),
        ("before old copies go", 101.0),
        ("never", 101.0),
    ],
)
def test_killed_at_any_moment(workspace: Path, moment: str, seen: float) -> None:
    first_run(workspace)
    command = [sys.executable, "-c", DIES, str(workspace), moment]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.stdout == "survived\n") == (moment == "never"), done.stderr
    for copy in (workspace / "store" / "published").glob("*.duckdb"):
        duckdb.connect(str(copy), read_only=True).close()
    assert masses(workspace) == [seen]
    assert heights(workspace) == [98.0 if seen == 100.0 else 99.0]
    with open_store(workspace / "store", workspace / "series") as store:
        if moment == "inside the transaction":
            assert store.next_run() == 2
        frames = {"weighing": rows.traced("weighing", rows.weighing("b", 101.0, 2))}
        rows.put(store, store.next_run(), "b", **frames, **rows.heights("b", "QX-0001", [99.0]))
        publish.publish(store)
    assert masses(workspace) == [101.0]
    assert heights(workspace) == [99.0]
    assert len(list((workspace / "store" / "published").iterdir())) <= 2
    leftover = [path.name for path in workspace.rglob(f"*{files.UNFINISHED}")]
    assert leftover == []


def test_reader_keeps_what_it_opened(workspace: Path) -> None:
    first_run(workspace)
    before = read.connect(workspace)
    with open_store(workspace / "store", workspace / "series") as store:
        for run_id in (2, 3, 4):
            frame = rows.traced("weighing", rows.weighing(f"x{run_id}", 100.0 + run_id, run_id))
            rows.put(store, run_id, f"x{run_id}", weighing=frame)
            publish.publish(store)
    with read.connect(workspace) as after:
        query = "SELECT mass_g FROM weighing WHERE valid_to_run IS NULL"
        assert fetch(before, query).item() == 100.0
        assert fetch(after, query).item() == 104.0
        assert fetch(before, "SELECT height_mm FROM compaction_height").item() == 98.0
    before.close()


def test_reader_in_another_process_hinders_no_writer(workspace: Path) -> None:
    first_run(workspace)
    script = (
        "import sys; from pathlib import Path; from warehouse import read\n"
        "connection = read.connect(Path(sys.argv[1])); print('open', flush=True); sys.stdin.readline()\n"
        "print(connection.execute('SELECT mass_g FROM weighing WHERE valid_to_run IS NULL').fetchall()[0][0])\n"
    )
    command = [sys.executable, "-c", script, str(workspace)]
    reader = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert reader.stdout is not None
    assert reader.stdout.readline() == "open\n"
    with open_store(workspace / "store", workspace / "series") as store:
        rows.put(store, 2, "b", weighing=rows.traced("weighing", rows.weighing("b", 101.0, 2)))
        publish.publish(store)
    answer, _ = reader.communicate("\n")
    assert answer == "100.0\n"
    assert masses(workspace) == [101.0]


def test_names_pointer_and_the_last_two_copies(workspace: Path) -> None:
    names = [first_run(workspace).name]
    with open_store(workspace / "store", workspace / "series") as store:
        for run_id in (2, 3):
            rows.put(store, run_id, f"x{run_id}", weighing=rows.traced("weighing", rows.weighing(f"x{run_id}", 1.0, 1)))
            names.append(publish.publish(store).name)
    assert names == ["mixledger-1.duckdb", "mixledger-2.duckdb", "mixledger-3.duckdb"]
    folder = workspace / "store" / "published"
    assert sorted(path.name for path in folder.iterdir()) == names[1:]
    assert (workspace / "store" / "current").read_text() == "mixledger-3.duckdb\n"


def test_publishing_again_gives_the_same_copy_unless_something_changed(store: Store) -> None:
    rows.put(store, 1, "a", weighing=rows.traced("weighing", rows.weighing("a", 100.0, 1)))
    first = publish.publish(store)
    assert publish.publish(store) == first
    store.connection.execute("INSERT INTO flag VALUES ('hot', 'Too hot.', NULL, NULL)")
    again = publish.publish(store)
    assert again.name == "mixledger-1-2.duckdb"
    assert publish.published(store.folder) == again


def test_copy_needs_no_long_series(workspace: Path) -> None:
    path = first_run(workspace)
    for part in (workspace / "series").rglob("*.parquet"):
        part.unlink()
    with open_store(workspace / "store", workspace / "series") as store:
        assert publish.publish(store) == path
    with pytest.raises(NotPublishedError, match="A part of the long series is missing"):
        read.connect(workspace)


def test_nothing_published_yet(workspace: Path) -> None:
    with pytest.raises(NotPublishedError) as caught:
        read.connect(workspace)
    assert caught.value.sentence == f"No warehouse has been published in '{workspace}'."
    assert "run the pipeline" in caught.value.remedy


def test_pointer_leads_nowhere_else(workspace: Path) -> None:
    first_run(workspace)
    (workspace / "store" / "current").write_text("../../secret.duckdb")
    (workspace / "secret.duckdb").write_bytes(b"")
    assert publish.published(workspace / "store") is None
