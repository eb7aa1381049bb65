"""How each kind of check value is run: entries of `[[name]]` by the function `check` of the module `name`."""

from collections.abc import Iterable
from importlib import import_module
from pkgutil import iter_modules

from pipeline.validation.model import Entry, Finding, Verdict, told


def known() -> frozenset[str]:
    """Return the kinds that can be run."""
    return frozenset(module.name for module in iter_modules(__path__))


def check(entry: Entry) -> list[Finding]:
    """Run one entry; a kind nobody can run, or a fault on the way, is a finding too."""
    if entry["kind"] not in known():
        reason = f"no module pipeline/validation/kinds/{entry['kind']}.py says how to run it"
        return [told(entry, "", Verdict.NOT_RUN, note=reason)]
    run = import_module(f"{__name__}.{entry['kind']}").check
    try:
        found: Iterable[Finding] = run(entry)
        return list(found)
    except Exception as fault:  # one check value at fault must not hide the others
        return [told(entry, "", Verdict.FAIL, note=f"{type(fault).__name__}: {fault}")]
