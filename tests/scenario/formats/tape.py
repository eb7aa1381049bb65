"""Write a compactor's paper tape of one day: fixed places, US customary units, a block for each piece."""

from collections.abc import Sequence
from datetime import datetime

from tests.scenario.formats.press import Press

_KPA_PER_PSI = 6.894757
_G_PER_LB = 453.59237
_MM_PER_IN = 25.4
_STOPS = {"gyrations": "TURNS", "height": "HEIGHT"}


def _piece(press: Press) -> list[str]:
    settings = (
        f"{press.pressure_kpa / _KPA_PER_PSI:6.2f} PSI {press.angle_deg:6.3f} DEG {press.speed_per_min:5.1f} TURNS/MIN"
    )
    charge = (
        f"{press.charge_g / _G_PER_LB:7.4f} LB {press.mould_mm / _MM_PER_IN:6.3f} IN {press.mix_c * 1.8 + 32:6.1f} F"
    )
    rows = [f"{turn:5d}{height / _MM_PER_IN:10.3f}" for turn, height in enumerate(press.heights_mm)]
    return [
        f"PIECE {press.sample}/{press.piece}  BEGUN {press.started:%m/%d/%Y %H:%M}  UNTIL {_STOPS[press.stop]}",
        settings,
        charge,
        " TURN      INCH",
        *rows,
        f"LAST {press.gyrations}",
    ]


def tape(machine: str, torn: datetime, runs: Sequence[Press]) -> bytes:
    """Return the tape of a day, ASCII."""
    head = f"TAPE OF {machine}  TORN OFF {torn:%m/%d/%Y %H:%M}"
    return "\n".join([head, *(line for run in runs for line in _piece(run)), ""]).encode("ascii")
