"""The catalogue of properties as one self-contained page."""

from collections.abc import Sequence
from importlib.metadata import version

from pipeline.methods import Entry, check_text, declared_contributions, input_text, precision_text
from plugins.renderers.verbs.shell import page as whole


def page(entries: Sequence[Entry]) -> bytes:
    """Return the page in UTF-8.

    Parameters
    ----------
    entries
        As `methods.catalogue` gives them.
    """
    return whole(
        "methods.html",
        f"Generated from the formulas of mixledger {version('mixledger')}.",
        entries=[_shown(entry) for entry in entries],
        contributions=declared_contributions(),
    )


def _shown(entry: Entry) -> Entry:
    routes = [
        route
        | {
            "inputs": [input_text(each) for each in route["inputs"]],
            "checks": [check_text(check) for check in route["checks"]],
            "precision": precision_text(route["precision"]) if route["precision"] else "",
        }
        for route in entry["routes"]
    ]
    return entry | {"routes": routes}
