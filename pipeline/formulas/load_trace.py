"""Procedures over the readings of load tests: peak, points after it, work, tangents; whole batches at a time."""

import polars as pl

from pipeline.settings import Results
from schemas.vocabulary import Method

KEYS = ["sample_id", "specimen_no"]
#: Shares of the peak load, %, at which the branch after the peak is read (ASTM D8225).
SHARES = (85, 75, 65)
#: Fewest readings a line is fitted to.
_FEWEST = 3
#: Points of the fitted curve among which the steepest is sought.
_GRID = 401
#: Readings that cannot tell the coefficients of the polynomial apart give a matrix worse than this.
_WORST_CONDITION = 1e10


def traces(series: pl.DataFrame, method: Method) -> pl.DataFrame:
    """Return the readings of one method, each with what is known of its trace.

    Adds `trace` (number of the trace), `at` (from 0), `top` (largest load, N), `peak_at` (its first reading), `way`
    (displacement from the first reading, mm), and load and way of the reading before.
    """
    other = pl.any_horizontal(pl.col(key) != pl.col(key).shift() for key in KEYS).fill_null(True)
    own = series.filter(pl.col("method") == method.value).with_columns(trace=other.cum_sum().set_sorted())
    # Windows over the number of the trace, once for all: by name, and figure by figure, they would take far longer.
    summary = own.group_by("trace", maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("length"),
        pl.col("load").max().alias("top"),
        pl.col("load").arg_max().cast(pl.Int64).alias("peak_at"),
        pl.col("displacement").first().alias("contact"),
    )
    starts = summary.with_columns(start=pl.col("length").cum_sum() - pl.col("length"))
    first = pl.col("at") == 0
    return (
        own.with_row_index("row")
        .join(starts, on="trace", how="left", maintain_order="left")
        .with_columns(at=pl.col("row").cast(pl.Int64) - pl.col("start"), way=pl.col("displacement") - pl.col("contact"))
        .with_columns(
            earlier_load=pl.when(~first).then(pl.col("load").shift()),
            earlier_way=pl.when(~first).then(pl.col("way").shift()),
        )
        .drop("row", "start", "contact", "length")
    )


def _by_trace(frame: pl.DataFrame, *figures: pl.Expr) -> pl.DataFrame:
    """Aggregate the readings of each trace; keys first."""
    return frame.group_by("trace", maintain_order=True).agg(pl.col(KEYS).first(), *figures).drop("trace")


def _peakless(parameters: Results) -> pl.Expr:
    """Return why a trace has no peak, null where it has one."""
    drop = parameters.peak_drop_pct
    lowest = pl.col("load").filter(pl.col("at") >= pl.col("peak_at")).min()
    top = pl.col("top").first()
    return (
        pl.when(top <= 0)
        .then(pl.lit("the trace has no load above zero"))
        .when(lowest > top * (1 - drop / 100) + 1e-9)
        .then(pl.lit(f"the trace has no peak: the load never falls by {drop:g} % after its largest reading"))
    )


def _told(found: pl.DataFrame, *names: str) -> pl.DataFrame:
    """Blank figures that have a reason in `why`, and give each its reason."""
    return found.with_columns(
        *(pl.when(pl.col("why").is_null()).then(pl.col(name)).alias(name) for name in names),
        *(pl.col("why").alias(f"{name}__why") for name in names),
    ).drop("why")


def peaks(series: pl.DataFrame, parameters: Results, method: Method) -> pl.DataFrame:
    """Return the largest load (N), the displacement there (mm from the first reading) and the rate up to it."""
    at_peak = pl.col("at") == pl.col("peak_at")
    time = pl.col("time").filter(at_peak).first() - pl.col("time").first()
    found = _by_trace(
        traces(series, method),
        pl.col("top").first().alias("load_highest"),
        pl.col("way").filter(at_peak).first().alias("displacement_highest"),
        pl.when(time > 0).then(60 * pl.col("way").filter(at_peak).first() / time).alias("rate_measured"),
        _peakless(parameters).alias("why"),
    )
    return _told(found, "load_highest", "displacement_highest")


def after_peak(series: pl.DataFrame, parameters: Results, method: Method) -> pl.DataFrame:
    """Return loads and displacements where the load first falls to the shares of its peak, and how often it does.

    The displacement is interpolated between the two readings around the share.
    """
    found = _by_trace(
        traces(series, method),
        *(_first_at(share).alias(f"displacement_{share}") for share in SHARES),
        *((pl.col("top").first() * (share * 0.01)).alias(f"load_{share}") for share in SHARES),
        pl.max_horizontal(_falling(share).sum() for share in SHARES).cast(pl.Float64).alias("crossings"),
        _peakless(parameters).alias("peakless"),
    )
    last = SHARES[-1]
    short = pl.when(pl.col(f"displacement_{last}").is_null()).then(
        pl.lit(f"the trace ends before the load falls to {last} % of its peak")
    )
    told = found.with_columns(why=pl.coalesce("peakless", short)).drop("peakless")
    return _told(told, *(f"{figure}_{share}" for figure in ("displacement", "load") for share in SHARES))


def _falling(share: float) -> pl.Expr:
    target = pl.col("top") * (share * 0.01)
    return (pl.col("at") > pl.col("peak_at")) & (pl.col("load") <= target) & (pl.col("earlier_load") > target)


def _first_at(share: float) -> pl.Expr:
    gone = (pl.col("earlier_load") - pl.col("top") * (share * 0.01)) / (pl.col("earlier_load") - pl.col("load"))
    way = pl.col("earlier_way") + gone * (pl.col("way") - pl.col("earlier_way"))
    return way.filter(_falling(share)).first()


def works(series: pl.DataFrame, parameters: Results, method: Method) -> pl.DataFrame:
    """Return the work (J) under the trace up to the end load after the peak, and the last load reached (N)."""
    end = parameters.work_end_load_n
    ends = (pl.col("at") > pl.col("peak_at")) & (pl.col("load") <= end)
    frame = traces(series, method)
    ended = frame.filter(ends).group_by("trace").agg(pl.col("at").min().alias("end_at"))
    frame = frame.join(ended, on="trace", how="left", maintain_order="left")
    step = pl.col("way") - pl.col("earlier_way")
    # The last step ends where the load is the end load, which as a rule lies between two readings.
    cut = (pl.col("at") == pl.col("end_at")) & (pl.col("load") < end) & (pl.col("earlier_load") > end)
    share = (pl.col("earlier_load") - end) / (pl.col("earlier_load") - pl.col("load"))
    area = (
        pl.when(cut)
        .then((pl.col("earlier_load") + end) / 2 * step * share)
        .otherwise((pl.col("earlier_load") + pl.col("load")) / 2 * step)
    )
    counts = pl.col("end_at").is_null() | (pl.col("at") <= pl.col("end_at"))
    found = _by_trace(
        frame,
        (area.filter(counts).sum() * 0.001).alias("work_to_end"),
        pl.col("load").filter(pl.col("at") >= pl.col("peak_at")).min().alias("load_end"),
        _peakless(parameters).alias("why"),
    )
    return _told(found, "work_to_end")


def tangents(series: pl.DataFrame, parameters: Results, method: Method) -> pl.DataFrame:
    """Return where the tangent of the rising branch meets zero load (mm): the start from which flow is counted."""
    low, high = parameters.flow_tangent_from_pct, parameters.flow_tangent_to_pct
    ratio = 100 * pl.col("load") / pl.col("top")
    rising = (pl.col("at") <= pl.col("peak_at")) & ratio.is_between(low, high)
    x, y = pl.col("way").filter(rising), pl.col("load").filter(rising)
    slope = ((x - x.mean()) * (y - y.mean())).sum() / ((x - x.mean()) ** 2).sum()
    few = f"fewer than {_FEWEST} readings between {low:g} and {high:g} % of the peak load: no tangent can be fitted"
    found = _by_trace(
        traces(series, method),
        (x.mean() - y.mean() / slope).alias("tangent_start"),
        pl.when(rising.sum() < _FEWEST)
        .then(pl.lit(few))
        .when(~((slope > 0) & slope.is_finite()).fill_null(False))
        .then(pl.lit("the readings the tangent is fitted to do not rise with the displacement"))
        .alias("unfit"),
        _peakless(parameters).alias("peakless"),
    )
    told = found.with_columns(why=pl.coalesce("peakless", "unfit")).drop("peakless", "unfit")
    return _told(told, "tangent_start")


def inflections(series: pl.DataFrame, parameters: Results, method: Method) -> pl.DataFrame:
    """Return the slope (N/mm, positive) at the inflection of a polynomial through the branch after the peak.

    One least-squares fit for all traces at once, on displacements scaled to -1 … 1. An inflection is a place inside
    the fitted range where the curve falls most steeply; a fit without one gives no number.
    """
    degree = parameters.inflection_fit_degree
    share = f"{parameters.inflection_fit_to_pct:g} %"
    frame = traces(series, method)
    branch = _branch(frame, parameters.inflection_fit_to_pct, degree)
    ended = _by_trace(
        frame,
        pl.col("load").filter(pl.col("at") >= pl.col("peak_at")).min().alias("lowest"),
        pl.col("top").first(),
        _peakless(parameters).alias("peakless"),
    ).join(_steepest(branch, degree), on=KEYS, how="left", maintain_order="left")
    short = pl.col("lowest") > pl.col("top") * (parameters.inflection_fit_to_pct * 0.01)
    reasons = (
        pl.coalesce("peakless")
        .fill_null(pl.when(short).then(pl.lit(f"the trace ends before the load falls to {share} of its peak")))
        .fill_null(
            pl.when(pl.col("unique").fill_null(False).not_()).then(
                pl.lit(f"too few readings between the peak and {share} of it: the fit is not unique")
            )
        )
        .fill_null(pl.when(pl.col("inside").not_()).then(pl.lit("the curve fitted after the peak has no inflection")))
    )
    return _told(ended.select(*KEYS, "slope_inflection", reasons.alias("why")), "slope_inflection")


def _branch(frame: pl.DataFrame, down_to: float, degree: int) -> pl.DataFrame:
    """Return per trace the sums of the normal equations over the readings from the peak down to a share of it."""
    after = pl.col("at") >= pl.col("peak_at")
    over = (pl.col("load") <= pl.col("top") * (down_to * 0.01)) & after
    last = frame.filter(over).group_by("trace").agg(pl.col("at").min().alias("last"))
    cut = frame.filter(after).join(last, on="trace", how="inner", maintain_order="left")
    cut = cut.filter(pl.col("at") <= pl.col("last"))
    ends = cut.group_by("trace").agg(pl.col("way").min().alias("low"), pl.col("way").max().alias("high"))
    half = (pl.col("high") - pl.col("low")) / 2
    scaled = cut.join(ends, on="trace", how="left", maintain_order="left").with_columns(
        x=pl.when(half > 0).then((pl.col("way") - pl.col("low")) / half - 1).otherwise(0.0),
        y=pl.col("load") / pl.col("top"),
        half=half,
    )
    return _by_trace(
        scaled,
        pl.col("half", "top").first(),
        *((pl.col("x") ** power).sum().alias(f"x{power}") for power in range(2 * degree + 1)),
        *((pl.col("x") ** power * pl.col("y")).sum().alias(f"y{power}") for power in range(degree + 1)),
    )


def _steepest(sums: pl.DataFrame, degree: int) -> pl.DataFrame:
    """Solve the normal equations of all traces; `unique`: they have one solution, `inside`: it has an inflection."""
    import numpy as np

    powers = np.arange(degree + 1)
    grid = np.linspace(-1, 1, _GRID)
    moments = sums.select(f"x{power}" for power in range(2 * degree + 1)).to_numpy()
    matrix = moments[:, powers[:, None] + powers[None, :]]
    right = sums.select(f"y{power}" for power in powers).to_numpy()
    unique = np.linalg.cond(matrix) < _WORST_CONDITION
    safe = np.where(unique[:, None, None], matrix, np.eye(degree + 1))
    coefficients = np.linalg.solve(safe, right[:, :, None])[:, :, 0]
    slopes = coefficients[:, 1:] * powers[1:] @ (grid ** powers[:-1, None])
    at = slopes.argmin(axis=1)
    inside = (at > 0) & (at < _GRID - 1) & (slopes.min(axis=1) < 0)
    # The lowest point of a parabola through the steepest point of the grid and its neighbours.
    row, middle = np.arange(len(at)), np.clip(at, 1, _GRID - 2)
    before, here, after = (slopes[row, middle + step] for step in (-1, 0, 1))
    bend = after - 2 * here + before
    lowest = here - np.divide((after - before) ** 2, 8 * bend, out=np.zeros_like(bend), where=bend > 0)
    return sums.select(
        *KEYS,
        pl.Series("unique", unique),
        pl.Series("inside", inside),
        (-pl.Series("slope", lowest) * pl.col("top") / pl.col("half")).alias("slope_inflection"),
    )
