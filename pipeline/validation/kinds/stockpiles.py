"""Combined gravity of the stockpiles of a mix design, through the derivation of records."""

from collections.abc import Iterator

import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, compared
from pipeline.validation.records import design, frame, sample


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the combined gravity of the shares and gravities stated."""
    piles = [
        {"mix_id": "HB-1", "revision": 1, "stockpile": str(number), "share_pct": share, "gsb": gravity}
        for number, (share, gravity) in enumerate(zip(entry["shares"], entry["gravities"], strict=True), start=1)
    ]
    made = {"sample": [sample()], "mix_design": [design()], "stockpile": piles}
    values = derive(Inputs.of(**{record: frame(record, rows) for record, rows in made.items()})).property_values
    (found,) = values.filter(pl.col("property") == "gsb_blend")["value"]
    covers = ("gsb_blend/of_stockpiles", "curve/stockpile_blend")
    yield compared(
        entry,
        "from records",
        found,
        entry["published"],
        entry["tolerance"],
        subject="gsb_blend",
        inputs=f"{len(piles)} stockpiles",
        covers=covers,
    )
