"""A whole gradation from the masses retained, through the derivation of records."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, Verdict, compared, told
from pipeline.validation.records import design, frame, retained, sample, weighed

_WAY = "from records"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield passing sieve by sieve, the loss in sieving, and that nothing is flagged."""
    rows = weighed("t30", before_wash=entry["mass_before_wash"], after_wash=entry["mass_after_wash"])
    masses = dict(zip(entry["sieve_mm"], entry["mass_retained"], strict=True)) | {0.0: entry["pan"]}
    made = {"sample": [sample()], "mix_design": [design()], "weighing": rows + retained(masses)}
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    passing = dict(
        values.filter(pl.col("property") == "passing", pl.col("level") == "sample").select("point", "value").iter_rows()
    )
    inputs = f"{len(masses)} masses retained"
    for sieve, published in zip(entry["sieve_mm"], entry["passing"], strict=True):
        given: dict[str, Any] = {"subject": f"passing {sieve:g} mm", "inputs": inputs, "covers": ("passing/washed",)}
        yield compared(entry, _WAY, passing[sieve], published, **given)
    (loss,) = values.filter(pl.col("property") == "sieving_loss")["value"]
    told_loss: dict[str, Any] = {"subject": "sieving loss", "inputs": inputs, "covers": ("sieving_loss/check_sum",)}
    yield compared(entry, _WAY, loss, entry["sieving_loss"], 0.005, **told_loss)
    flags = sorted(set(values["flags"].drop_nulls()))
    verdict = Verdict.FAIL if flags or len(passing) != len(entry["sieve_mm"]) else Verdict.PASS
    stated = {"expected": "none", "computed": " ".join(flags) or "none", "why": "the example keeps every limit"}
    yield told(entry, _WAY, verdict, subject="flags", inputs=inputs, **stated)
