"""How a workspace stands: waiting, stored, refused."""

from typing import Any

from pipeline import intake, state
from pipeline.workspace import Workspace

_COUNTS = {
    "exports": "select count(*) from exports",
    "samples": "select count(*) from samples",
    "property values": "select count(*) from property_values",
    "judged results": "select count(*) from judgements where verdict <> 'not_judged'",
    "of these failing": "select count(*) from judgements where verdict = 'fail'",
    "refused or waiting": "select count(*) from refusals",
}

_REFUSALS = """
    select coalesce(file_name, '') as file_name, coalesce(found_at, '') as place, stage, code, sample_id,
           reason, remedy
    from refusals order by all"""


def status(workspace: Workspace) -> dict[str, Any]:
    """Return counts and refusals of a workspace."""
    marks = state.load(workspace)
    counts: dict[str, Any] = {
        "workspace": str(workspace.root),
        "waiting in the inbox": len(intake.unseen(workspace, intake.journal(workspace))),
        "last run": marks.stored,
    }
    refusals: list[dict[str, Any]] = []
    if marks.stored:
        from warehouse.read import connect
        from warehouse.sql import count_of, fetch

        with connect(workspace.root) as connection:
            for name, sql in _COUNTS.items():
                counts[name] = count_of(connection, sql)
            refusals = fetch(connection, _REFUSALS).to_dicts()
    return {"counts": counts, "refusals": refusals}
