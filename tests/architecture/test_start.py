"""Starting the program loads none of the heavy libraries, and help is complete."""

import json
import subprocess
import sys

import pytest

HEAVY = ("polars", "duckdb", "pandera", "prefect", "great_tables", "scipy", "pint", "pyarrow", "numpy")
PROBE = """
import json, sys
from click.testing import CliRunner
from pipeline.cli.group import group
result = CliRunner().invoke(group, sys.argv[1:])
print(json.dumps([result.exit_code, sorted(sys.modules), result.output]))
"""


def probe(*given: str) -> tuple[int, set[str], str]:
    done = subprocess.run([sys.executable, "-c", PROBE, *given], capture_output=True, text=True, check=True)
    code, modules, text = json.loads(done.stdout.splitlines()[-1])
    return code, set(modules), text


def test_help_loads_nothing_heavy() -> None:
    code, modules, text = probe("--help")
    assert code == 0
    assert not modules & set(HEAVY)
    for line in ("Examples:", "Exit codes:", "demo", "trace"):
        assert line in text


def test_a_run_with_nothing_new_loads_nothing_heavy(tmp_path) -> None:
    probe("init", str(tmp_path / "lab"))
    code, _, _ = probe("-w", str(tmp_path / "lab"), "run", "--quiet")
    assert code == 0
    code, modules, text = probe("-w", str(tmp_path / "lab"), "run", "--quiet")
    assert (code, text.strip()) == (0, "nothing new")
    assert not modules & set(HEAVY)


def commands() -> list[str]:
    from pipeline.cli.group import group

    return group.list_commands(None)  # type: ignore[attr-defined, arg-type]


@pytest.mark.parametrize("name", commands())
def test_every_command_has_help_with_an_example(name: str) -> None:
    code, _, text = probe(name, "--help")
    assert code == 0
    assert "Example" in text
