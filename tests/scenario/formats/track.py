"""Write wheel-tracking tests, as a tab-delimited table, as XML and as an SQLite file."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

#: Where an SQLite file says which version of the library wrote it last.
_VERSION_AT = 96


@dataclass(frozen=True)
class Track:
    """One test of two wheels: passes (n), depths in mm (n x 11) of the left and the right wheel."""

    machine: str
    written: datetime
    started: datetime
    sample: str
    test: str
    set_passes: int
    ended_by: str
    load_n: tuple[float, float]
    bath_set_c: float
    bath_mean_c: float
    passes_per_min: float
    air_voids: tuple[float, float]
    passes: NDArray[np.int64]
    left: NDArray[np.float64]
    right: NDArray[np.float64]


def table(track: Track) -> bytes:
    """Return the tab-delimited table, UTF-8 with byte order mark."""
    head = [
        f"Track test\t{track.machine}",
        f"Written\t{track.written:%Y-%m-%d %H:%M}",
        f"Started\t{track.started:%Y-%m-%d %H:%M}",
        f"Sample\t{track.sample}",
        f"Test\t{track.test}",
        f"Set passes\t{track.set_passes}",
        f"Ended by\t{track.ended_by}",
        f"Load N\t{track.load_n[0]:.1f}\t{track.load_n[1]:.1f}",
        f"Bath set C\t{track.bath_set_c:.1f}",
        f"Bath mean C\t{track.bath_mean_c:.1f}",
        f"Passes per min\t{track.passes_per_min:.1f}",
        f"Air voids %\t{track.air_voids[0]:.1f}\t{track.air_voids[1]:.1f}",
        f"Rows\t{len(track.passes)}",
        "\t".join(["pass", *(f"{side}{place}" for side in "LR" for place in range(1, 12))]),
    ]
    depths = np.hstack([track.left, track.right]).tolist()
    rows = [
        f"{number}\t" + "\t".join(f"{depth:.2f}" for depth in row)
        for number, row in zip(track.passes.tolist(), depths, strict=True)
    ]
    return "\n".join([*head, *rows, ""]).encode("utf-8-sig")


def _wheel(track: Track, side: str, number: int, depths: NDArray[np.float64]) -> list[str]:
    readings = [
        f'<reading pass="{at}">' + "".join(f"<d>{depth:.2f}</d>" for depth in row) + "</reading>"
        for at, row in zip(track.passes.tolist(), depths.tolist(), strict=True)
    ]
    voids, load = track.air_voids[number], track.load_n[number]
    return [f'<wheel side="{side}" load="{load:.1f}" loadUnit="N" airVoids="{voids:.1f}">', *readings, "</wheel>"]


def xml(track: Track) -> bytes:
    """Return the XML document, UTF-8."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<trackTest machine="{track.machine}" written="{track.written:%Y-%m-%dT%H:%M:%S}">',
        f'<sample id="{track.sample}" test="{track.test}"/>',
        f'<run started="{track.started:%Y-%m-%dT%H:%M:%S}" setPasses="{track.set_passes}"'
        f' endedBy="{track.ended_by}" passesPerMin="{track.passes_per_min:.1f}"/>',
        f'<bath set="{track.bath_set_c:.1f}" mean="{track.bath_mean_c:.1f}" unit="C"/>',
        *_wheel(track, "left", 0, track.left),
        *_wheel(track, "right", 1, track.right),
        "</trackTest>",
    ]
    return ("\n".join(lines) + "\n").encode()


def store(track: Track) -> bytes:
    """Return the test as an SQLite file: what holds for the run, the wheels, and a row for each wheel and pass."""
    about = {
        "tracker": track.machine,
        "stored": f"{track.written:%Y-%m-%d %H:%M}",
        "begun": f"{track.started:%Y-%m-%d %H:%M}",
        "sample": track.sample,
        "test": track.test,
        "passes wanted": track.set_passes,
        "ended because of": track.ended_by,
        "bath wanted C": round(track.bath_set_c, 1),
        "bath held C": round(track.bath_mean_c, 1),
        "passes a minute": round(track.passes_per_min, 1),
    }
    places = [f"at{place}" for place in range(1, 12)]
    with closing(sqlite3.connect(":memory:")) as made:
        made.execute("pragma page_size = 4096")
        made.execute("create table about (what text, told)")
        made.execute("create table lanes (lane text, load_n real, voids real, passes integer)")
        made.execute(f"create table ruts (lane text, passes integer, {', '.join(f'{p} real' for p in places)})")
        made.executemany("insert into about values (?, ?)", about.items())
        for lane, number, depths in (("west", 0, track.left), ("east", 1, track.right)):
            head = (lane, round(track.load_n[number], 1), round(track.air_voids[number], 1), int(track.passes[-1]))
            made.execute("insert into lanes values (?, ?, ?, ?)", head)
            rows = ((lane, at, *row) for at, row in zip(track.passes.tolist(), depths.round(2).tolist(), strict=True))
            made.executemany(f"insert into ruts values ({', '.join('?' * 13)})", rows)
        made.commit()
        content = bytearray(made.serialize())
    content[_VERSION_AT : _VERSION_AT + 4] = b"\x00\x00\x00\x00"  # which library wrote it must not show in the bytes
    return bytes(content)
