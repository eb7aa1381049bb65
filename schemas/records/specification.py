"""Specification sets: what a contract asks, each limit with its source, and the projects and mixes it holds for."""

import polars as pl

from schemas.columns import column
from schemas.keys import Ties
from schemas.records.traced import Traced
from schemas.vocabulary import (
    Basis,
    CompositeRule,
    DecisionRule,
    FreedomForm,
    LimitUse,
    LookUp,
    Material,
    OutlierTest,
    Phase,
    RoundingMethod,
)


class SpecificationSet(Traced):
    """One specification set: the rules that hold for all its limits."""

    set_id: str = column("Short name of the set; projects and assignments name it.")
    title: str = column("Name in full.", nullable=True)
    set_version: str = column("Version of the set, as its author counts.", nullable=True)
    agency: str = column("Whose contract it is.", nullable=True)
    valid_from: pl.Date = column("First day on which it holds.", nullable=True)
    decision_rule: str = column(
        "How uncertainty counts in verdicts on single results; null is simple.", words=DecisionRule, nullable=True
    )
    guard_factor: float = column(
        "Width of the guard band in standard uncertainties; null is 2.", at_least=0, at_most=10, nullable=True
    )
    rounding: str = column(
        "How a result is held against a limit; null is the rounding method.", words=RoundingMethod, nullable=True
    )
    stop_days: pl.Int64 = column(
        "Longest stop in production, in days, after which start-up is not due again; null: no such rule.",
        at_least=1,
        nullable=True,
    )
    stop_after_out: pl.Int64 = column(
        "Acceptance or control samples out in a row that stop production; null: no such rule.",
        at_least=1,
        nullable=True,
    )
    restart: str = column("What the contract asks before production goes on, in words.", nullable=True)
    turn_round_days: pl.Int64 = column(
        "Days from sampling within which results are due; null: none agreed.", at_least=0, nullable=True
    )
    sample_every_t: float = column("Tonnage one sample stands for.", unit="t", above=0, nullable=True)
    lot_size_t: float = column("Tonnage of a lot.", unit="t", above=0, nullable=True)
    sublot_size_t: float = column("Tonnage of a sublot.", unit="t", above=0, nullable=True)
    edge_m: float = column("Strip along the edges from which no core is taken.", unit="m", at_least=0, nullable=True)
    composite: str = column(
        "How the factors of a lot's properties give one; null is weighted.", words=CompositeRule, nullable=True
    )
    significance: float = column(
        "Probability of calling equal what is equal different, in comparisons; null is 0.01.",
        above=0,
        at_most=0.2,
        nullable=True,
    )
    freedom_form: str = column(
        "Degrees of freedom for unequal variances; null is welch.", words=FreedomForm, nullable=True
    )
    run_of: pl.Int64 = column(
        "Results in a row on one side of the centre that are a signal; null is 8.",
        at_least=5,
        at_most=15,
        nullable=True,
    )
    source: str = column("Where the rules stand: document, section, table.", nullable=True)
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("set_id",)).as_metadata()


class SpecificationAssignment(Traced):
    """A project, or one mix of it, judged by a specification set between two days."""

    project_id: str = column("Project.")
    mix_id: str = column("Mix it holds for; null is every mix of the project.", nullable=True)
    set_id: str = column("Specification set.")
    valid_from: pl.Date = column(
        "First day on which samples are judged by it; null: from the beginning.", nullable=True
    )
    valid_until: pl.Date = column("Last such day; null: until further notice.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("project_id", "mix_id", "set_id", "valid_from")).as_metadata()


class SpecificationLimit(Traced):
    """One limit of a specification set."""

    set_id: str = column("Specification set it belongs to; projects name it.")
    limit_id: str = column("Name of the limit within the set.")
    property: str = column("Property it limits, by its registry name.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    unit: str = column("Unit its author had in mind; must be the property's.", nullable=True)
    use: str = column("What it is for; null is acceptance.", words=LimitUse, nullable=True)
    average_of: pl.Int64 = column(
        "Results in the moving average it limits; null is the single result.", at_least=2, at_most=20, nullable=True
    )
    phase: str = column("Phase it holds for; null is every phase.", words=Phase, nullable=True)
    material: str = column("Material it holds for.", words=Material)
    nmas_mm: float = column("Nominal maximum size it holds for; null is every size.", unit="mm", above=0, nullable=True)
    traffic: str = column("Traffic class it holds for; null is every class.", nullable=True)
    binder_grade: str = column(
        "Binder grade it holds for, its beginning suffices (PG 70); null is every grade.", nullable=True
    )
    layer: str = column("Layer it holds for; null is every layer.", nullable=True)
    basis: str = column("Absolute, or around the mix-design target.", words=Basis)
    lower: float = column("Lower limit, in the property's unit; null is none.", nullable=True)
    upper: float = column("Upper limit, in the property's unit; null is none.", nullable=True)
    clip_lower: float = column("Control point below which the lower limit does not fall.", nullable=True)
    clip_upper: float = column("Control point above which the upper limit does not rise.", nullable=True)
    decimals: pl.Int64 = column(
        "Decimals of the limit, to which a result is rounded before it is compared; null: as reported.",
        at_least=0,
        at_most=10,
        nullable=True,
    )
    required: bool = column("Whether a sample without this result is listed as missing it.")
    excluding_flags: str = column(
        "Validity flags that keep a result from being judged, separated by spaces.", nullable=True
    )
    source: str = column("Where the limit stands: document, section, table.")
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)
    valid_from: pl.Date = column("First day on which the limit holds.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("set_id", "limit_id")).as_metadata()


class AcceptancePlan(Traced):
    """How lots are accepted on one property: quality index and pay."""

    set_id: str = column("Specification set it belongs to.")
    plan_id: str = column("Name of the plan within the set.")
    property: str = column("Property it accepts on, by its registry name.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    material: str = column("Material it holds for.", words=Material)
    basis: str = column("Absolute, or around the mix-design target.", words=Basis)
    lower: float = column("Lower limit, in the property's unit; null is none.", nullable=True)
    upper: float = column("Upper limit, in the property's unit; null is none.", nullable=True)
    target: float = column("Target of deviations, in the property's unit; null is the mix design's.", nullable=True)
    look_up: str = column(
        "How a percentage is read for a quality index; null is closed_form.", words=LookUp, nullable=True
    )
    equation: str = column("Pay equation, published or of the set; null: no pay.", nullable=True)
    one_result: str = column("Pay equation for a lot of one result; null: none.", nullable=True)
    two_results: str = column("Pay equation for a lot of two results; null: none.", nullable=True)
    weight: float = column("Weight in the composite factor; null is 1.", above=0, nullable=True)
    retest_from_pct: float = column(
        "Percentage beyond the limits from which a retest is owed; null: none.",
        unit="%",
        at_least=0,
        at_most=100,
        nullable=True,
    )
    removal_from_pct: float = column(
        "Percentage beyond the limits from which the lot is to be removed; null: none.",
        unit="%",
        at_least=0,
        at_most=100,
        nullable=True,
    )
    screen_from_pct: float = column(
        "Percentage beyond the limits from which outliers are looked for; null: always.",
        unit="%",
        at_least=0,
        at_most=100,
        nullable=True,
    )
    outlier_test: str = column("How outliers are looked for; null is e178.", words=OutlierTest, nullable=True)
    excluding_flags: str = column(
        "Validity flags that keep a result out of the lot, separated by spaces.", nullable=True
    )
    source: str = column("Where the plan stands: document, section, table.")
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("set_id", "plan_id")).as_metadata()


class PayPiece(Traced):
    """One piece of a pay equation of a set: a line over a range of its measure."""

    set_id: str = column("Specification set it belongs to.")
    equation: str = column("Name of the equation; plans name it.")
    piece_no: pl.Int64 = column("Place among the pieces; of two that hold the first counts.", at_least=1)
    measure: str = column("What it is a function of: pwl, pd, aad or deviation.")
    form: str = column("What it gives: factor, pct, adjustment_pct or adjustment.")
    at_least: float = column("Holds from here; null: no bound.", nullable=True)
    above: float = column("Holds above; null: no bound.", nullable=True)
    at_most: float = column("Holds up to here; null: no bound.", nullable=True)
    below: float = column("Holds below; null: no bound.", nullable=True)
    intercept: float = column("Value of the line at zero.")
    slope: float = column("Slope of the line; 0 for a step.")
    decimals: pl.Int64 = column(
        "Decimals to which the measure is rounded first; null: not rounded.", at_least=0, at_most=10, nullable=True
    )
    consequence: str = column("What follows besides pay, in words.", nullable=True)
    source: str = column("Where the equation stands: document, section, table.")
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("set_id", "equation", "piece_no")).as_metadata()


class PrecisionLimit(Traced):
    """How far two results on the same material may differ."""

    set_id: str = column("Specification set it belongs to.")
    property: str = column("Property, by its registry name.")
    point: float = column("Sieve opening in mm or number of passes, where the property has one.", nullable=True)
    single_operator: float = column(
        "Standard deviation of results of one operator, in the property's unit; null: not stated.",
        above=0,
        nullable=True,
    )
    multilaboratory: float = column(
        "Standard deviation of results of different laboratories, in the property's unit; null: not stated.",
        above=0,
        nullable=True,
    )
    source: str = column("Where it stands: document, section, table.")
    mark: str = column("How far the source was confirmed; null is seen in print.", nullable=True)

    class Config:
        """Key and ties."""

        metadata = Ties(key=("set_id", "property", "point")).as_metadata()
