"""Write gyratory compactions, as a text report and as JSON."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Press:
    """One compaction: settings as the machine keeps them, heights in mm from gyration 0."""

    machine: str
    written: datetime
    sample: str
    piece: str
    started: datetime
    stop: str
    pressure_kpa: float
    angle_deg: float
    speed_per_min: float
    charge_g: float
    mould_mm: float
    mix_c: float
    heights_mm: Sequence[float]

    @property
    def gyrations(self) -> int:
        """Gyrations applied: one height more than gyrations."""
        return len(self.heights_mm) - 1


def report(press: Press) -> bytes:
    """Return the text report, UTF-8."""
    head = [
        "PRESS REPORT",
        f"machine = {press.machine}",
        f"written = {press.written:%Y-%m-%dT%H:%M}",
        f"sample = {press.sample}",
        f"piece = {press.piece}",
        f"started = {press.started:%Y-%m-%dT%H:%M}",
        f"stop = {press.stop}",
        f"gyrations = {press.gyrations}",
        f"pressure kPa = {press.pressure_kpa:.1f}",
        f"angle deg = {press.angle_deg:.3f}",
        f"speed 1/min = {press.speed_per_min:.1f}",
        f"charge g = {press.charge_g:.0f}",
        f"mould mm = {press.mould_mm:.2f}",
        f"mix degC = {press.mix_c:.0f}",
        "",
        "gyration  height mm",
    ]
    rows = [f"{gyration}  {height:.1f}" for gyration, height in enumerate(press.heights_mm)]
    return "\n".join([*head, *rows, f"end {len(rows)}", ""]).encode()


def _document(press: Press) -> dict[str, Any]:
    return {
        "kind": "gyratory compaction",
        "machine": press.machine,
        "written": f"{press.written:%Y-%m-%dT%H:%M:%S}",
        "specimen": {"sample": press.sample, "piece": press.piece, "charge_g": round(press.charge_g, 1)},
        "settings": {
            "stop": press.stop,
            "pressure_kPa": round(press.pressure_kpa, 1),
            "angle_deg": round(press.angle_deg, 3),
            "rate_per_min": round(press.speed_per_min, 1),
            "mould_mm": round(press.mould_mm, 2),
            "mix_C": round(press.mix_c, 1),
        },
        "started": f"{press.started:%Y-%m-%dT%H:%M:%S}",
        "gyrations": press.gyrations,
        "heights_mm": [round(float(height), 1) for height in press.heights_mm],
    }


def document(press: Press) -> bytes:
    """Return the JSON document, UTF-8: one key a line, the heights on one line."""
    fields = [f"  {json.dumps(key)}: {json.dumps(value)}" for key, value in _document(press).items()]
    return ("{\n" + ",\n".join(fields) + "\n}\n").encode()
