"""Frozen declarations of a property, its formulas, their inputs and their validity checks."""

import builtins
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Literal

import polars as pl

from pipeline.settings import Results
from schemas.units import SUFFIXES
from schemas.vocabulary import Level, Material, Method

Expression = Callable[..., pl.Expr]
At = Literal["sieve_mm", "gyration", "wheel_pass", "step"]

#: Mark of a limit or precision statement that was not seen in print.
FROM_MEMORY = "from memory"
COMMON_PRACTICE = "common practice"


class Grain(Enum):
    """What one row of a table of figures stands for."""

    SPECIMEN = "specimen"
    SPECIMEN_SIEVE = "specimen x sieve"
    SPECIMEN_GYRATION = "specimen x gyration"
    SPECIMEN_PASS = "specimen x pass"  # noqa: S105
    SPECIMEN_STEP = "specimen x step"
    SAMPLE = "sample"
    SAMPLE_SIEVE = "sample x sieve"
    SAMPLE_PASS = "sample x pass"  # noqa: S105

    @property
    def level(self) -> Level:
        """Level under which figures of this grain are stored."""
        return Level.SPECIMEN if self.value.startswith("specimen") else Level.SAMPLE

    @property
    def at(self) -> At | None:
        """Column that tells the rows of one specimen or sample apart."""
        found: dict[str, At] = {"sieve": "sieve_mm", "gyration": "gyration", "pass": "wheel_pass", "step": "step"}
        return found.get(self.value.rpartition(" ")[2])

    @property
    def keys(self) -> tuple[str, ...]:
        """Columns that identify a row."""
        owner = ("sample_id", "specimen_no") if self.level is Level.SPECIMEN else ("sample_id",)
        return (*owner, self.at) if self.at else owner

    @property
    def parent(self) -> "Grain":
        """The next coarser grain, whose figures hold for every row of this one."""
        if self.level is Level.SPECIMEN and self.at:
            return Grain.SPECIMEN
        return Grain.SAMPLE


#: Grains of long series: their figures have neither reasons nor flags, their specimens have them.
LONG = (Grain.SPECIMEN_GYRATION, Grain.SPECIMEN_STEP)
#: Records of these methods describe the same specimens: the press that made them, the balance that weighed them, wiped
#: or sealed, the caliper, and the gauge that read the place a core was cut from.
_SAME_SPECIMENS = dict.fromkeys((Method.T312, Method.T331, Method.T269, Method.D3549, Method.T355), Method.T166)


def family(method: Method) -> Method:
    """Return the method whose table of specimens the records of a method join."""
    return _SAME_SPECIMENS.get(method, method)


#: One table of figures: its grain and, for specimens, the method that made them.
Table = tuple[Grain, Method | None]


@dataclass(frozen=True)
class Quantity:
    """A measured or registered figure that formulas take in.

    Attributes
    ----------
    name, symbol, title, unit
        Registry name; symbol as written in the trade; what it is; unit as in `schemas.units`, or None.
    grain, method
        Table that holds it; `method` None: every table of that grain.
    missing
        Sentence used as the reason where it is absent.
    picks
        (property, at): it is the sample's figure of that property at that place.
    kind
        `number`, or `text` for facts that only conditions read.
    """

    name: str
    symbol: str
    title: str
    unit: str | None
    grain: Grain
    method: Method | None = None
    missing: str = ""
    picks: tuple[str, float] | None = None
    kind: Literal["number", "text"] = "number"


@dataclass(frozen=True)
class Property:
    """A derived figure as readers know it.

    Attributes
    ----------
    name, symbol, title, unit
        Registry name; symbol as the standard writes it; name in full; unit as in `schemas.units`, or None.
    decimals
        Decimals it is reported to; `decimals_at` holds exceptions as (place, decimals).
    at, places
        What tells several values of one sample apart, and the standard values of it.
    missing
        Reason given where a formula needs it and the sample has none.
    """

    name: str
    symbol: str
    title: str
    unit: str | None
    decimals: int
    at: Literal["sieve_mm", "passes", "gyration"] | None = None
    places: tuple[float, ...] = ()
    decimals_at: tuple[tuple[float, int], ...] = ()
    missing: str | None = None

    def decimals_for(self, at: float | None) -> int:
        """Return the decimals reported at a place."""
        return dict(self.decimals_at).get(at, self.decimals) if at is not None else self.decimals

    def column_name(self, at: float | None = None) -> str:
        """Return the name of the column in wide views: `passing_0_075_pct`, `rut_depth_10000_mm`."""
        place = "" if at is None else "_" + f"{at:g}".replace(".", "_")
        suffix = SUFFIXES[self.unit] if self.unit else ""
        return f"{self.name}{place}{suffix}"


@dataclass(frozen=True)
class Bound:
    """A number in a check; `limits` of the settings may replace it under its name, which ends in its unit.

    `mark` says how far it was confirmed where it was less so than the rest of its check.
    """

    name: str
    value: float
    mark: str | None = None


def bounds(unit: str, **values: float) -> tuple[Bound, ...]:
    """Return bounds in one unit, named by what they are of and their unit, in the order given."""
    return tuple(Bound(f"{name}_{unit}", value) for name, value in values.items())


def around(unit: str, name: str, target: float, tolerance: float) -> tuple[Bound, ...]:
    """Return a target and its tolerance as bounds in one unit."""
    return bounds(unit, **{name: target, f"{name}_tolerance": tolerance})


@dataclass(frozen=True)
class Check:
    """A condition a figure must keep.

    Attributes
    ----------
    code
        Stable code; stands in `flags`.
    sentence
        What it means that the condition does not hold.
    inputs, holds
        Names read, and the condition over them; unknown (null) counts as kept. The property's own name is its value.
        After the inputs the condition is given the numbers of `bounds`.
    limit
        The limit in words, with unit; `{}` stands for each of the bounds in turn.
    source, mark
        Where the limit stands, and how far that was confirmed (None: seen in print).
    effect
        `flag`: the figure stands, flagged. `withhold`: there is no figure. `stand_in`: the figure serves others in
        place of a test that was not made; it is flagged and never judged as a result.
    remedy
        What to do, where the inputs contradict each other.
    """

    code: str
    sentence: str
    inputs: tuple[str, ...]
    holds: Expression
    limit: str
    source: str
    mark: str | None = None
    effect: Literal["flag", "withhold", "stand_in"] = "flag"
    remedy: str | None = None
    bounds: tuple[Bound, ...] = ()

    def kept(self, *found: pl.Expr) -> pl.Expr:
        """Return whether the condition holds for these figures; null where that cannot be told."""
        return self.holds(*found, *(each.value for each in self.bounds))

    @builtins.property
    def limit_text(self) -> str:
        """The limit in words, with the numbers that count."""
        return self.limit.format(*(f"{each.value:g}" for each in self.bounds)) if self.bounds else self.limit


@dataclass(frozen=True)
class Precision:
    """Precision statement of a method, in words with numbers; `mark` as in `Check`."""

    text: str
    mark: str | None = None


@dataclass(frozen=True, eq=False)
class Formula:
    """One way to a property.

    Attributes
    ----------
    property, grain, route
        What it gives, for what, and the name of this way; unique together.
    standard, section, equation
        Where it stands, and the equation as readers see it.
    inputs, expression
        Names, and the function of as many polars expressions in that order.
    defaults
        Input -> value taken where it was not recorded.
    takes
        Input -> property that stands in for it when derived from records (Gmb -> Gmb at N design).
    lead
        Inputs whose presence calls for the figure; where all are absent it is not due. Default: the masses, or else
        the first input.
    applies
        Condition for this way; where it does not hold another way is tried.
    material
        Material it is for; None: any.
    method
        Method whose records give its inputs (specimens only).
    parameters
        Named choices of the derivation it rests on, stored with the result.
    states
        Figures told among the parameters of the result, such as the range of a fit.
    by_hand_only
        Never used on records; offered to people who compute by hand.
    variadic
        Stems of inputs that come in numbered groups (p1, g1, p2, g2 …).
    first_by
        Setting that names the route to be tried first where the sample has several; None: the order of declaration.
    """

    property: Property
    grain: Grain
    route: str
    standard: str
    section: str
    equation: str
    inputs: tuple[str, ...]
    expression: Expression
    checks: tuple[Check, ...] = ()
    precision: Precision | None = None
    method: Method | None = None
    by_hand_only: bool = False
    defaults: tuple[tuple[str, float], ...] = ()
    takes: tuple[tuple[str, str], ...] = ()
    lead: tuple[str, ...] = ()
    applies: pl.Expr | None = None
    material: Material | None = None
    parameters: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    variadic: tuple[str, ...] = ()
    first_by: str | None = None

    @builtins.property
    def leading(self) -> tuple[str, ...]:
        """Inputs whose presence calls for the figure."""
        masses = tuple(name for name in self.inputs if name.startswith("mass_"))
        return self.lead or masses or self.inputs[:1]

    def column(self, name: str) -> str:
        """Return the column that stands for an input when derived from records."""
        return dict(self.takes).get(name, name)


@dataclass(frozen=True)
class Mean:
    """A property as the mean of the same or another property of finer grain, with n and standard deviation.

    Attributes
    ----------
    of, of_grain
        Property averaged, and its grain.
    over
        Columns whose equal values make one mean; the default is the sample.
    counted_by
        Only rows that also have this figure count.
    every
        Whether one withheld figure withholds the mean (a mean of survivors would mislead).
    of_material
        Material of the samples averaged, where it differs from `material`.
    checks
        Conditions over `n`, `range` (largest less smallest) and `spread` (standard deviation) of the figures averaged.
    trimmed_from
        From so many figures on the highest and the lowest are dropped; 0: never.
    first_by
        Setting that names the route to be tried first (as in `Formula`).
    """

    property: Property
    grain: Grain
    of: Property
    of_grain: Grain
    method: Method | None = None
    route: str = "mean"
    standard: str = ""
    section: str = ""
    over: tuple[str, ...] = ("sample_id",)
    counted_by: str | None = None
    every: bool = False
    material: Material | None = None
    of_material: Material | None = None
    checks: tuple[Check, ...] = ()
    parameters: tuple[str, ...] = ()
    precision: Precision | None = None
    trimmed_from: int = 0
    first_by: str | None = None

    @builtins.property
    def equation(self) -> str:
        """What it does, as readers see it."""
        dropped = f", highest and lowest dropped from {self.trimmed_from} on" if self.trimmed_from else ""
        return f"{self.property.symbol} = mean of {self.of.symbol}{dropped}"


@dataclass(frozen=True)
class Curve:
    """A procedure over a long series that gives figures per specimen: fits, areas, first occurrences.

    Attributes
    ----------
    name, table
        Name of the procedure, and the table of specimens its figures join.
    gives
        The figures, as quantities that formulas take in; each may be missing with a reason (`<name>__why`).
    standard, section, procedure
        Where it stands, and what is done, as readers see it.
    series
        Long series it reads: `compaction_height` (`gyration`, `height` in mm), `wheel_depth` (`wheel_pass`, `depth`
        in mm, the mean of the positions that count, zeroed or not as chosen, and `recorded`, never zeroed),
        `load_point` (`method`, `reading`, `time` in s, `displacement` in mm, `load` in N), `particle_fraction`
        (`sieve_mm`, `share` in %, masses by role), `stockpile` (`stockpile`, `share` in %, `gravity`), each with the
        keys of the specimen or sample and sorted.
    needs
        Figures of the same or a coarser table that the procedure rests on.
    function
        (series, specimens with keys and `needs`, choices) -> keys and `gives`, one row per specimen.
    along
        (table, property): derived figures it reads as its series in place of a recorded one; `series` then names
        them in words.
    parameters
        Named choices of the derivation it rests on.
    """

    name: str
    table: Table
    gives: tuple[Quantity, ...]
    standard: str
    section: str
    procedure: str
    series: str
    function: Callable[[pl.DataFrame, pl.DataFrame, Results], pl.DataFrame]
    needs: tuple[str, ...] = ()
    along: tuple[Table, str] | None = None
    parameters: tuple[str, ...] = ()


Route = Formula | Mean
