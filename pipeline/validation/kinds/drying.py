"""Moisture of a mixture from the weighings on the way to constant mass, through the derivation."""

from collections.abc import Iterator

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, Verdict, compared, told
from pipeline.validation.records import design, frame, sample, weighed

_WAY = "from records"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the moisture of the sample, and its flags."""
    key = {"sample_id": "S1", "specimen_no": "1"}
    moist = weighed("t329", oven_container=entry["container"], oven_container_moist=entry["moist"])
    dried = [
        {**key, "method": "t329", "reading": number, "mass_g": mass}
        for number, mass in enumerate(entry["dried"], start=1)
    ]
    made = {"sample": [sample()], "mix_design": [design()], "weighing": moist, "drying_weighing": dried}
    values = derive(Inputs.of(**{record: frame(record, rows) for record, rows in made.items()})).property_values
    (row,) = (row for row in values.to_dicts() if row["property"] == "moisture" and row["level"] == "sample")
    inputs = f"container {entry['container']} g, moist {entry['moist']} g, dried {entry['dried']} g"
    yield compared(
        entry, _WAY, row["value"], inputs=inputs, covers=("moisture/oven", "drying_change/last_two_weighings")
    )
    codes = (row["flags"] or "").split()
    verdict = Verdict.PASS if codes == entry["flags"] else Verdict.FAIL
    stated = {"expected": " ".join(entry["flags"]) or "none", "computed": " ".join(codes) or "none"}
    yield told(entry, _WAY, verdict, subject="flags", inputs=inputs, **stated)
