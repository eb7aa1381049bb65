"""AASHTO T 335 (ASTM D5821): fractured particles of coarse aggregate."""

from pipeline.formulas.minimum_mass import portion_check
from pipeline.formulas.model import Check, Formula, Grain, Mean, Property, bounds
from schemas.vocabulary import Method

STANDARD = "AASHTO T 335 (ASTM D5821)"

ONE_FACE = Property("fractured_one", "CAA 1+", "coarse particles with one or more fractured faces, by mass", "%", 0)
TWO_FACES = Property("fractured_two", "CAA 2+", "coarse particles with two or more fractured faces, by mass", "%", 0)


def _questionable(masses: tuple[str, ...]) -> Check:
    return Check(
        code="questionable_above_limit",
        sentence="too many particles are questionable: examine them again",
        inputs=masses,
        holds=lambda fractured, questionable, rest, most: (
            100 * questionable <= most * (fractured + questionable + rest) + 1e-9
        ),
        bounds=bounds("pct", t335_questionable=15),
        limit="questionable particles at most {} % of the total",
        source="training cards to AASHTO T 335 (fractured faces)",
    )


def _counted(prop: Property, suffix: str) -> Formula:
    masses = tuple(f"mass_{role}{suffix}" for role in ("fractured", "questionable", "not_fractured"))
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route="by_mass",
        standard=STANDARD,
        section="calculation",
        equation="P = 100 (F + Q / 2) / (F + Q + N), with F fractured, Q questionable (none: D5821), N not fractured",
        inputs=masses,
        expression=lambda fractured, questionable, rest: (
            100 * (fractured + questionable * 0.5) / (fractured + questionable + rest)
        ),
        defaults=((masses[1], 0.0),),
        checks=(
            _questionable(masses),
            *portion_check(
                masses,
                lambda fractured, questionable, rest: fractured + questionable.fill_null(0.0) + rest,
                "t335",
                "WSDOT FOP for AASHTO T 335, method 1, retained on 4.75 mm",
                None,
            ),
        ),
        lead=masses,
        method=Method.T335,
    )


COUNTED = (_counted(ONE_FACE, ""), _counted(TWO_FACES, "_two"))
OF_SAMPLE = tuple(
    Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.T335,
        standard=STANDARD,
    )
    for prop in (ONE_FACE, TWO_FACES)
)
