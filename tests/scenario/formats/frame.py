"""Write traces of a load frame: header lines, readings and a closing line, bars between the values."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Trace:
    """One specimen broken: sizes in mm, readings of time (s), displacement (mm) and load (kN)."""

    frame: str
    written: datetime
    started: datetime
    sample: str
    piece: str
    test: str
    head: tuple[tuple[str, str], ...]
    seconds: NDArray[np.float64]
    displacement: NDArray[np.float64]
    load: NDArray[np.float64]


def trace(run: Trace) -> bytes:
    """Return the text of a trace, UTF-8."""
    head = [
        f"Frame trace|{run.frame}",
        f"Written|{run.written:%Y-%m-%d %H:%M:%S}",
        f"Started|{run.started:%Y-%m-%d %H:%M:%S}",
        f"Sample|{run.sample}",
        f"Piece|{run.piece}",
        f"Test|{run.test}",
        *(f"{key}|{value}" for key, value in run.head),
        "reading|s|mm|kN",
    ]
    columns = (run.seconds.tolist(), run.displacement.tolist(), run.load.tolist())
    rows = [
        f"{number}|{second:.2f}|{way:.3f}|{load:.3f}"
        for number, (second, way, load) in enumerate(zip(*columns, strict=True), start=1)
    ]
    return "\n".join([*head, *rows, f"closed|{len(rows)}", ""]).encode()


def record(run: Trace) -> bytes:
    """Return the trace as a record of the second kind of frame: UTF-16, tabs, decimal commas, loads in N."""
    names = {
        "Diameter mm": "Across",
        "Thickness mm": "Through",
        "Set mm/min": "Drive",
        "Piece C": "Warmth",
        "Voids %": "Void",
    }
    units = {"Across": "mm", "Through": "mm", "Drive": "mm/min", "Warmth": "C", "Void": "%"}
    head = [
        "LOAD RECORD",
        f"frame\t{run.frame}",
        f"kept\t{run.written:%d.%m.%Y %H:%M:%S}",
        f"begun\t{run.started:%d.%m.%Y %H:%M:%S}",
        f"label\t{run.sample} {run.piece}",
        f"programme\t{run.test}",
        *(f"{names[key]}\t{value.replace('.', ',')} {units[names[key]]}" for key, value in run.head),
        "",
        "Point\tClock [s]\tWay [mm]\tForce [N]",
    ]
    columns = (run.seconds.tolist(), run.displacement.tolist(), run.load.tolist())
    rows = [
        f"{number}\t{second:.2f}\t{way:.3f}\t{1000 * load:.0f}".replace(".", ",")
        for number, (second, way, load) in enumerate(zip(*columns, strict=True), start=1)
    ]
    return "\r\n".join([*head, *rows, f"Points\t{len(rows)}", ""]).encode("utf-16-le").join([b"\xff\xfe", b""])
