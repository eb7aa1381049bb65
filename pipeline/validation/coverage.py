"""Which formulas and procedures have a published check, and which have none."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass

from pipeline.formulas import registry
from pipeline.formulas.model import Curve, Formula
from pipeline.validation.model import UNPUBLISHED, Finding, Verdict


@dataclass(frozen=True)
class Covered:
    """One formula or procedure, and how many of its checks rest on a published figure or on a recomputed one."""

    name: str
    symbol: str
    standard: str
    equation: str
    published: int
    unpublished: int

    def as_dict(self) -> dict[str, object]:
        """Return it as plain values."""
        return asdict(self)


def coverage(findings: Iterable[Finding]) -> list[Covered]:
    """Return every formula and procedure of the registry, in the registry's order."""
    counts: dict[str, list[int]] = {}
    for found in findings:
        if found.verdict is Verdict.PASS:
            for name in found.covers:
                counts.setdefault(name, [0, 0])[found.mark in UNPUBLISHED] += 1
    catalogue = registry.load()
    listed: dict[str, Formula | Curve] = {}
    for formula in catalogue.formulas:
        listed.setdefault(f"{formula.property.name}/{formula.route}", formula)
    listed |= {f"curve/{curve.name}": curve for curve in catalogue.curves}
    return [_covered(name, each, counts.get(name, [0, 0])) for name, each in listed.items()]


def _covered(name: str, stated: Formula | Curve, counts: list[int]) -> Covered:
    if isinstance(stated, Curve):
        symbol, equation = ", ".join(each.symbol for each in stated.gives), stated.procedure
    else:
        symbol, equation = stated.property.symbol, stated.equation
    standard = ", ".join(filter(None, (stated.standard, stated.section)))
    return Covered(name, symbol, standard, equation, counts[0], counts[1])
