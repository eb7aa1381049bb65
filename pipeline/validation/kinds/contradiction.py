"""Values that cannot all be true: they must be refused, saying which."""

from collections.abc import Iterator

from pipeline.compute import compute
from pipeline.solving import ContradictionError
from pipeline.validation.model import Entry, Finding, Verdict, told


def check(entry: Entry) -> Iterator[Finding]:
    """Yield whether the values are refused with the sentence expected."""
    expected = f"refused: {entry['message']}"
    try:
        computed = f"accepted: {compute(entry['property'], entry['inputs']).shown}"
    except ContradictionError as refused:
        computed = f"refused: {refused}"
    verdict = Verdict.PASS if computed.startswith(expected) else Verdict.FAIL
    why = "values that contradict each other give no figure"
    yield told(entry, "by hand", verdict, expected=expected, computed=computed, negative=True, why=why)
