"""A figure found in a load trace -> the condition for the readings it was found at."""

#: Share of the peak load after it, by the ending of the figure's name.
_SHARES = {"85": 0.85, "75": 0.75, "65": 0.65}
_POINTS = {f"{figure}_{ending}": share for figure in ("load", "displacement") for ending, share in _SHARES.items()}
_AT_PEAK = ("load_highest", "displacement_highest")
#: Figures that rest on the trace as a whole: its first and last reading and its peak stand for it.
_WHOLE = ("work_to_end", "load_end", "tangent_start", "slope_inflection", "crossings", "rate_measured", "readings")

OF_TRACES = frozenset((*_POINTS, *_AT_PEAK, *_WHOLE))

_OWN = "sample_id = ? and specimen_no = ? and method = ?"
_PEAK = (
    f"(select min(reading) from load_point where {_OWN} and load_n = (select max(load_n) from load_point where {_OWN}))"
)


def readings(name: str, sample_id: str, specimen_no: str | None, method: str | None) -> tuple[str, list[object]]:
    """Return the condition over `load_point`, with its values, for the readings a figure was found at.

    Parameters
    ----------
    name
        One of `OF_TRACES`.
    sample_id, specimen_no, method
        What the trace belongs to.
    """
    own: list[object] = [sample_id, specimen_no, method]
    if name in _AT_PEAK:
        return f"{_OWN} and reading = {_PEAK}", own * 3
    if name in _POINTS:
        top = f"(select max(load_n) from load_point where {_OWN})"
        below = f"(select min(reading) from load_point where {_OWN} and reading > {_PEAK} and load_n <= {top} * ?)"
        found = f"{_OWN} and reading between {below} - 1 and {below}"
        share: list[object] = [_POINTS[name]]
        return found, own + (own * 4 + share) * 2
    ends = f"(select min(reading) from load_point where {_OWN}), (select max(reading) from load_point where {_OWN})"
    return f"{_OWN} and reading in ({ends}, {_PEAK})", own * 5
