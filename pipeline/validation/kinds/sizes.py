"""Nominal and maximum size of a gradation by a named definition, through the derivation of records."""

from collections.abc import Iterator

import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.settings import Results
from pipeline.validation.model import Entry, Finding, compared
from pipeline.validation.records import design, frame, retained, sample, weighed

_WAY = "from records"
_MASS = 10_000.0


def check(entry: Entry) -> Iterator[Finding]:
    """Yield both sizes: from masses that give the stated passing, and with the definition in the settings."""
    passing = [100.0, *entry["passing"]]
    masses = {
        sieve: (before - after) * _MASS / 100
        for sieve, before, after in zip(entry["sieve_mm"], passing, passing[1:], strict=False)
    }
    rows = weighed("t27", dry=_MASS) + retained(masses, method="t27")
    made = {"sample": [sample(material="aggregate")], "mix_design": [design()], "weighing": rows}
    records = Inputs.of(**{record: frame(record, each) for record, each in made.items()})
    values = derive(records, Results(nominal_size=entry["definition"])).property_values
    inputs = f"{len(masses)} sieves, {entry['definition']}"
    for name in ("nmas_found", "maximum_size"):
        (size,) = values.filter(pl.col("property") == name)["value"]
        covers = (f"{name}/of_gradation", "curve/sizes")
        yield compared(entry, _WAY, size, entry[name], 1e-9, subject=name, inputs=inputs, covers=covers)
