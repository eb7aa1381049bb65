"""Write records of specimens compacted in steps, by a falling hammer or a kneading foot."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Steps:
    """One specimen: what it was made with, as label and text; heights in mm after steps."""

    machine: str
    sample: str
    piece: str
    made: datetime
    kept: datetime
    by: str
    steps: int
    with_units: tuple[tuple[str, str], ...]
    heights: tuple[tuple[int, float], ...]


def record(run: Steps) -> bytes:
    """Return the record, UTF-8."""
    head = [
        "COMPACTED IN STEPS",
        f"machine: {run.machine}",
        f"specimen: {run.sample} no {run.piece}",
        f"made: {run.made:%d.%m.%Y %H:%M}",
        f"kept: {run.kept:%d.%m.%Y %H:%M}",
        f"by: {run.by}",
        f"steps: {run.steps}",
        *(f"{label}: {text}" for label, text in run.with_units),
        "",
        "after > mm",
    ]
    rows = [f"{step} > {height:.1f}" for step, height in run.heights]
    return "\n".join([*head, *rows, f"heights > {len(rows)}", ""]).encode()
