"""A whole gradation from the masses retained, through the derivation of records."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, Verdict, compared, told
from pipeline.validation.records import design, frame, retained, sample, weighed

_WAY = "from records"
_COVERS = {
    "t30": ("passing/washed", "sieving_loss/check_sum"),
    "t27": ("passing/washed_t27", "sieving_loss/check_sum_t27"),
}


def check(entry: Entry) -> Iterator[Finding]:
    """Yield passing sieve by sieve, the loss in sieving, and the flags."""
    method, material = entry.get("method", "t30"), entry.get("material", "mix")
    rows = weighed(method, before_wash=entry["mass_before_wash"], after_wash=entry["mass_after_wash"])
    masses = dict(zip(entry["sieve_mm"], entry["mass_retained"], strict=True)) | {0.0: entry["pan"]}
    rows += retained(masses, method=method)
    made = {"sample": [sample(material=material)], "mix_design": [design()], "weighing": rows}
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    passing = dict(
        values.filter(pl.col("property") == "passing", pl.col("level") == "sample").select("point", "value").iter_rows()
    )
    inputs = f"{len(masses)} masses retained"
    for sieve, published in zip(entry["sieve_mm"], entry["passing"], strict=True):
        given: dict[str, Any] = {"subject": f"passing {sieve:g} mm", "inputs": inputs, "covers": (_COVERS[method][0],)}
        yield compared(entry, _WAY, passing[sieve], published, **given)
    (loss,) = values.filter(pl.col("property") == "sieving_loss")["value"]
    told_loss: dict[str, Any] = {"subject": "sieving loss", "inputs": inputs, "covers": (_COVERS[method][1],)}
    yield compared(entry, _WAY, loss, entry["sieving_loss"], 0.005, **told_loss)
    for name, published in entry.get("sizes", {}).items():
        (size,) = values.filter(pl.col("property") == name)["value"]
        yield compared(
            entry, _WAY, size, published, 1e-9, subject=name, inputs=inputs, covers=(f"{name}/of_gradation",)
        )
    flags = sorted(set(values["flags"].drop_nulls()))
    wanted = entry.get("flags", [])
    verdict = Verdict.FAIL if flags != wanted or len(passing) != len(entry["sieve_mm"]) else Verdict.PASS
    why = entry.get("flags_why", "the example keeps every limit")
    stated = {"expected": " ".join(wanted) or "none", "computed": " ".join(flags) or "none", "why": why}
    yield told(entry, _WAY, verdict, subject="flags", inputs=inputs, **stated)
