"""A strength leads back to readings of the load frame: every line shown is a line of the export."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import EXPORTS


def lines(step: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the evidence below a step, with the symbol of the figure it is for."""
    yield from ((step["symbol"], each) for each in step["evidence"])
    for each in step["inputs"]:
        yield from lines(each)


def traced(demo: Workspace, prop: str, sample: str) -> dict[str, Any]:
    done = CliRunner().invoke(group, ["-w", str(demo.root), "trace", prop, sample, "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    step: dict[str, Any] = json.loads(done.stdout)
    return step


#: Folder of exports -> encoding, where it is not the journals'.
_ENCODINGS = {"frame_trace": "utf-8", "frame_record": "utf-16"}


@pytest.mark.parametrize(
    ("sample", "prop", "symbols", "specimens"),
    [
        ("QL-0001", "tsr", {"P max", "t", "D"}, 6),
        ("QL-0001", "saturation", {"mass 'saturated'", "mass 'dry'"}, 3),
        ("TW-0001", "marshall_stability", {"P max", "mass 'ssd'"}, 3),
        ("TW-0001", "marshall_flow", {"l max", "l0"}, 3),
        ("HB-0001", "ct_index", {"l75", "P85", "P65", "∫P dl", "t", "D"}, 4),
    ],
)
def test_every_figure_ends_at_lines_of_exports(
    demo: Workspace, sample: str, prop: str, symbols: set[str], specimens: int
) -> None:
    step = traced(demo, prop, sample)
    found = list(lines(step))
    assert symbols <= {symbol for symbol, _ in found}
    for _, each in found:
        path, number = EXPORTS / each["file_name"], int(each["place"].rpartition("line ")[2])
        if path.suffix != ".xlsx":
            text = path.read_bytes().decode(_ENCODINGS.get(path.parent.name, "cp1252"))
            assert text.splitlines()[number - 1] == each["raw_line"]
    files = {each["file_name"] for _, each in found if each["file_name"].startswith("frame_")}
    assert len(files) == (0 if prop == "saturation" else specimens)


def test_the_peak_shown_is_the_largest_load_of_the_export(demo: Workspace) -> None:
    found = lines(traced(demo, "tsr", "QL-0001"))
    shown = {each["file_name"]: each["raw_line"] for symbol, each in found if symbol == "P max"}
    assert len(shown) == 6
    for name, line in shown.items():
        rows = (EXPORTS / name).read_text("utf-8").splitlines()
        loads = [float(row.split("|")[3]) for row in rows if row.count("|") == 3 and row[0].isdigit()]
        assert float(line.split("|")[3]) == max(loads)
