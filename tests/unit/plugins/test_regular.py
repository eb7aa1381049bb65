"""A long table of plain numbers is read at once, and to the last bit and word as cell by cell."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from plugins.api import Reading
from plugins.layout import parse, regular
from tests.unit.plugins.examples import export, importers

HEAD = """\
Track test\tQL-WT1
Written\t2026-05-07 09:00
Started\t2026-05-07 09:00
Sample\tQL-0001
Test\t1
Rows\t{rows}
pass\t{names}
"""
NAMES = [f"{side}{at}" for side in "LR" for at in range(1, 12)]


def lines(count: int = 4) -> list[list[str]]:
    drawn = np.random.default_rng(7).uniform(-4, 59, (count, 22))
    return [[str(number + 1), *(repr(float(depth)) for depth in drawn[number])] for number in range(count)]


def text(rows: list[list[str]], mark: str = "\n") -> str:
    body = "".join("\t".join(row) + "\n" for row in rows)
    return (HEAD.format(rows=len(rows), names="\t".join(NAMES)) + body).replace("\n", mark)


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[bool]]:
    """Note of each table whether it was read at once."""
    whole, noted = regular.read, []

    def noting(*given: object) -> pl.DataFrame | None:
        frame = whole(*given)  # type: ignore[arg-type]
        noted.append(frame is not None)
        return frame

    monkeypatch.setattr(regular, "read", noting)
    yield noted


def both(folder: Path, monkeypatch: pytest.MonkeyPatch, *texts: str) -> tuple[Reading, Reading]:
    """Read as it comes and with the CSV reader kept out."""
    exports = [export(folder, one, f"{number}.tsv") for number, one in enumerate(texts)]
    importer = importers()["track_table"]
    quick = importer.read(exports)
    with monkeypatch.context() as patch:
        patch.setattr(regular, "plain_columns", lambda layout, records: {})
        return quick, importer.read(exports)


def same(quick: Reading, careful: Reading) -> None:
    assert_frame_equal(quick.refused, careful.refused)
    assert set(quick.frames) == set(careful.frames)
    for record, frame in careful.frames.items():
        assert_frame_equal(quick.frames[record], frame, check_exact=True)


@pytest.mark.parametrize("mark", ["\n", "\r\n", "\r"])
def test_numbers_are_the_same_to_the_last_bit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: list[bool], mark: str
) -> None:
    quick, careful = both(tmp_path, monkeypatch, text(lines(300), mark), text(lines(3), mark))
    assert taken == [True]
    assert quick.frames["wheel_depth"].height == 2 * 303
    same(quick, careful)


@pytest.mark.parametrize("cell", ["", "  ", "+5", " 5", ".5", "5.", "1e1", "0.1000000000000000055511151231257827"])
def test_cells_the_reader_takes_mean_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: list[bool], cell: str
) -> None:
    rows = lines()
    rows[2][5] = cell
    quick, careful = both(tmp_path, monkeypatch, text(rows))
    assert taken == [True]
    same(quick, careful)


@pytest.mark.parametrize(
    "cell", ["n/a", "---", "1,5", "nan", "inf", "1e400", '"5"', "5 ", "5\u00a0", "0x10", "1_0", "5\t5", "5\n5", "5\n\t"]
)
def test_any_other_cell_is_left_to_the_closer_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: list[bool], cell: str
) -> None:
    rows = lines()
    rows[2][5] = cell
    quick, careful = both(tmp_path, monkeypatch, text(rows), text(lines(5)))
    assert taken == [False]
    same(quick, careful)


@pytest.mark.parametrize("cell", ["", "1.5", "x", "1e17", "99999999999999999999"])
def test_a_pass_must_be_a_whole_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: list[bool], cell: str
) -> None:
    rows = lines()
    rows[1][0] = cell
    quick, careful = both(tmp_path, monkeypatch, text(rows))
    assert taken == [False]
    assert cell in {"1e17"} or quick.refused.height > 0
    same(quick, careful)


def test_a_short_row_beside_a_long_one_does_not_pass_for_two_whole_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: list[bool]
) -> None:
    rows = lines()
    rows[2].append(rows[1].pop())
    quick, careful = both(tmp_path, monkeypatch, text(rows))
    assert taken == [False]
    assert quick.refused["source_line"].to_list() == [9, 10]
    same(quick, careful)


def test_a_fault_of_one_long_export_does_not_slow_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: list[bool]
) -> None:
    monkeypatch.setattr(parse, "_LONG", 1_000)
    bad = lines(50)
    bad[40][3] = "n/a"
    quick, careful = both(tmp_path, monkeypatch, text(lines(2)), text(bad), text(lines(60)))
    assert taken == [True, False, True]
    same(quick, careful)
    assert quick.refused.select("source_line", "found").rows() == [(48, "n/a")]
