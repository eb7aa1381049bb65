"""Loads printed in newtons and in pounds-force: our conversion against the print."""

from collections.abc import Iterator
from typing import Any

from pipeline.validation.model import Entry, Finding, compared
from schemas.units import conversion


def check(entry: Entry) -> Iterator[Finding]:
    """Yield each load converted from pounds-force."""
    factor, _ = conversion("lbf", "N")
    for newton, pound in zip(entry["newton"], entry["pound"], strict=True):
        given: dict[str, Any] = {"subject": f"{pound:g} lbf in N", "inputs": f"{pound:g} lbf"}
        yield compared(entry, "conversion of units", pound * factor, float(newton), **given)
