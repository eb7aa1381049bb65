"""Correction factor of the ignition furnace from burns of known binder content, through the derivation."""

from collections.abc import Iterator

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, Verdict, compared, told
from pipeline.validation.records import design, frame, sample, weighed

_WAY, _MASS = "from records", 2000.0


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the factor found, with its flags, from masses that give the stated losses."""
    burns, masses = [], []
    furnace = entry.get("furnace", [538.0] * len(entry["loss"]))
    for number, (loss, known, set_point) in enumerate(zip(entry["loss"], entry["known"], furnace, strict=True)):
        key = {"sample_id": "S1", "specimen_no": str(number + 1)}
        burns.append({**key, "purpose": "calibration", "pb_known_pct": known, "furnace_set_c": set_point})
        masses += weighed("t308", "S1", str(number + 1), before_burn=_MASS, after_burn=_MASS * (1 - loss / 100))
    made = {"sample": [sample()], "mix_design": [design()], "weighing": masses, "ignition_burn": burns}
    values = derive(Inputs.of(**{record: frame(record, rows) for record, rows in made.items()})).property_values
    (row,) = (row for row in values.to_dicts() if row["property"] == "ignition_correction_found")
    inputs = f"losses {entry['loss']} %, known {entry['known']} %"
    covers = ("ignition_correction_found/calibration", "calibration_difference/calibration", "ignition_loss/masses")
    yield compared(entry, _WAY, row["value"], subject="correction factor", inputs=inputs, covers=covers)
    codes = (row["flags"] or "").split()
    verdict = Verdict.PASS if codes == entry["flags"] else Verdict.FAIL
    stated = {"expected": " ".join(entry["flags"]) or "none", "computed": " ".join(codes) or "none"}
    yield told(entry, _WAY, verdict, subject="flags", inputs=inputs, **stated)
