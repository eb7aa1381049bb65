"""Published comparisons of two independent samples: F, then t for equal and unequal variances."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.comparison import summary, two_samples
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield F with its probability, and t, degrees of freedom and probability of each form the entry states."""
    sides = [_side(entry[name]) for name in ("first", "second")]
    given = {f"{key}_{number}": side[key] for number, side in enumerate(sides, start=1) for key in ("n", "mean", "s")}
    # Significance decides which form the F-test calls for: 0 takes equal variances, 1 unequal ones.
    forms = {"equal": (0.0, "welch"), "welch": (1.0, "welch"), "plus_one": (1.0, "plus_one")}
    rows = [given | {"alpha": alpha, "form": form} for alpha, form in forms.values()]
    told = dict(zip(forms, two_samples(pl.DataFrame(rows)).to_dicts(), strict=True))
    inputs = "; ".join(f"n {side['n']}, mean {side['mean']:g}, s {side['s']:g}" for side in sides)
    for subject, name in (("f", "f"), ("f_p", "f_p")):
        if subject in entry:
            yield compared(entry, "F-test", told["equal"][name], *entry[subject], subject=subject, inputs=inputs)
    for form in forms:
        for name, (expected, tolerance) in entry.get(form, {}).items():
            value = told[form][name]
            yield compared(entry, f"t-test, {form}", value, expected, tolerance, subject=name, inputs=inputs)


def _side(given: dict[str, float] | list[float]) -> dict[str, float]:
    """Return n, mean and s, from themselves or from results."""
    if isinstance(given, dict):
        return given
    return summary(pl.DataFrame({"key": 1, "value": given}), ["key"]).to_dicts()[0]
