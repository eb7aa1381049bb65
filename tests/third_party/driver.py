"""Works in a workspace with the package installed, in the throw-away environment; tells what it saw as JSON."""

import json
import sys
from importlib.metadata import distribution
from pathlib import Path

from click.testing import CliRunner

from pipeline.cli.group import group
from warehouse.read import connect

LAB, EXPORT = Path(sys.argv[1]), Path(sys.argv[2]).read_bytes()
seen: dict[str, object] = {"installed_in": str(distribution("mixledger-our-press").locate_file(""))}


def call(*given: str) -> tuple[int, str]:
    done = CliRunner().invoke(group, ["-w", str(LAB), *given], catch_exceptions=False)
    return done.exit_code, done.output


def drop(name: str, content: bytes) -> None:
    (LAB / "inbox" / name).write_bytes(content)


def ask(sql: str) -> list[list[object]]:
    with connect(LAB) as connection:
        return [list(row) for row in connection.execute(sql).fetchall()]


def trust_of_ours() -> dict[str, object]:
    listed = json.loads(call("plugins", "--json")[1])["plugins"]
    keys = ("origin", "trust", "records", "last_recognised")
    return {each["name"]: [each[key] for key in keys] for each in listed if "installed" in each["origin"]}


CliRunner().invoke(group, ["init", str(LAB)], catch_exceptions=False)
drop("one.txt", EXPORT)
seen["untrusted run"] = call("run", "--quiet")
seen["untrusted refusals"] = ask("select code from refusals")
seen["trust"] = call("trust", "mixledger-our-press", "--pin")
seen["trusted run"] = call("run", "--quiet")
seen["rows"] = ask(
    "select specimen_no, role, mass_g, source_line from weighing where valid_to_run is null order by all"
)
seen["reader"] = ask("select importer, importer_version from exports")
seen["plugins"] = trust_of_ours()
seen["page"] = (LAB / "pages" / "our_cards" / "samples.html").read_text("utf-8")
seen["withdraw"] = call("trust", "mixledger-our-press", "--withdraw")
drop("two.txt", EXPORT.replace(b"QL-0013;2", b"QL-0013;3"))
seen["withdrawn run"] = call("run", "--quiet")
seen["withdrawn refusals"] = ask("select file_name, code from refusals where code = 'unknown_kind'")
seen["withdrawn rows"] = ask("select count(*) from weighing where valid_to_run is null")
print(json.dumps(seen))
