"""Closed vocabularies as enums whose members carry their definition."""

from enum import StrEnum
from typing import Self


class Word(StrEnum):
    """A word of a closed vocabulary: its value is stored, its definition is shown."""

    definition: str

    def __new__(cls, value: str, definition: str = "") -> Self:
        """Make a member of a value and its definition."""
        member = str.__new__(cls, value)
        member._value_ = value
        member.definition = definition
        return member

    @classmethod
    def values(cls) -> list[str]:
        """Return the stored values in the order they are declared."""
        return [str(member.value) for member in cls]


class Phase(Word):
    """Where in the life of a mix a sample was taken."""

    VERIFICATION = "verification", "mix design verified in the laboratory before paving"
    STARTUP = "startup", "first plant mix, to prove that it is the mix that was verified"
    PRODUCTION = "production", "plant mix, aggregate or core taken by lot and sublot during paving"


class Material(Word):
    """What a sample consists of."""

    MIX = "mix", "loose asphalt mixture"
    CORE = "core", "compacted pavement: cores cut from it, places read with a density gauge"
    AGGREGATE = "aggregate", "aggregate of a stockpile or of the blend"


class Method(Word):
    """Test method a record belongs to, by the designation of its standard."""

    T166 = "t166", "AASHTO T 166, bulk specific gravity of compacted specimens, surface-dry"
    T209 = "t209", "AASHTO T 209, theoretical maximum specific gravity of loose mixture"
    T308 = "t308", "AASHTO T 308, binder content by ignition"
    T30 = "t30", "AASHTO T 30 with T 11, washed gradation of extracted aggregate"
    T27 = "t27", "AASHTO T 27 with T 11 (ASTM C136, C117), gradation of aggregate"
    T312 = "t312", "AASHTO T 312, gyratory compaction"
    T324 = "t324", "AASHTO T 324, wheel tracking under water"
    T283 = "t283", "AASHTO T 283 with ASTM D6931, indirect tensile strength, dry and conditioned"
    T245 = "t245", "AASHTO T 245 (ASTM D6927), Marshall stability and flow"
    T246 = "t246", "AASHTO T 246 (ASTM D1560), Hveem stabilometer"
    D8225 = "d8225", "ASTM D8225, cracking tolerance index of a whole cylinder"
    T393 = "t393", "AASHTO T 393, flexibility index of a notched half disc"
    D8360 = "d8360", "ASTM D8360, rapid shear rutting index"
    T331 = "t331", "AASHTO T 331, bulk specific gravity of compacted specimens, vacuum-sealed"
    T269 = "t269", "AASHTO T 269, bulk specific gravity by dimensions, and air voids"
    D3549 = "d3549", "ASTM D3549, thickness or height of compacted specimens"
    T247 = "t247", "AASHTO T 247 (ASTM D1561), kneading compaction"
    T84 = "t84", "AASHTO T 84 (ASTM C128), specific gravity and absorption of fine aggregate"
    T85 = "t85", "AASHTO T 85 (ASTM C127), specific gravity and absorption of coarse aggregate"
    T304 = "t304", "AASHTO T 304 (ASTM C1252), uncompacted voids of fine aggregate"
    T335 = "t335", "AASHTO T 335 (ASTM D5821), fractured particles of coarse aggregate"
    T176 = "t176", "AASHTO T 176 (ASTM D2419), sand equivalent"
    D4791 = "d4791", "ASTM D4791, flat and elongated particles"
    T164 = "t164", "AASHTO T 164 (ASTM D2172), binder content by solvent extraction"
    T329 = "t329", "AASHTO T 329, moisture of the mixture by oven"
    T355 = "t355", "AASHTO T 355 (ASTM D2950), density in place by nuclear gauge"
    R76 = "r76", "AASHTO R 47 (mixture) and R 76 (aggregate), reduction to testing size"


#: Methods whose specimens are compacted in steps, blows or tamps, with a height after each.
STEPPED = (Method.T245, Method.T247)
#: Methods whose records are load tests.
LOAD_TESTS = (Method.T283, Method.T245, Method.T246, Method.D8225, Method.T393, Method.D8360)


class MassRole(Word):
    """What a mass was weighed for; the formulas name it `mass_<role>`."""

    DRY = "dry", "dry specimen or test portion in air"
    SUBMERGED = "submerged", "specimen suspended in water"
    SSD = "ssd", "saturated surface-dry specimen in air"
    CONTAINER_WATER = "container_water", "container filled with water, in air"
    CONTAINER_SAMPLE_WATER = (
        "container_sample_water",
        "container with sample, filled with water after the vacuum, in air",
    )
    CONTAINER_SUBMERGED = "container_submerged", "empty container, in water"
    CONTAINER_SAMPLE_SUBMERGED = (
        "container_sample_submerged",
        "container with sample after the vacuum, in water",
    )
    BEFORE_BURN = "before_burn", "mixture before ignition"
    AFTER_BURN = "after_burn", "what is left after ignition"
    BEFORE_WASH = "before_wash", "dry aggregate before washing"
    AFTER_WASH = "after_wash", "dry aggregate after washing"
    RETAINED = "retained", "aggregate retained on one sieve (0 mm is the pan)"
    SATURATED = "saturated", "surface-dry specimen in air after it was saturated under vacuum"
    BASKET = "basket", "empty basket assembly of the ignition furnace"
    BASKET_BEFORE_BURN = "basket_before_burn", "basket assembly with the mixture before ignition"
    BASKET_AFTER_BURN = "basket_after_burn", "basket assembly with what is left after ignition"
    BEFORE_EXTRACTION = "before_extraction", "mixture before extraction"
    WATER_IN_PORTION = "water_in_portion", "water in the mixture before extraction"
    EXTRACTED = "extracted", "extracted dry aggregate, with the gain of the filter"
    MINERAL_MATTER = "mineral_matter", "mineral matter in the extract"
    OVEN_CONTAINER = "oven_container", "empty dry container for the oven"
    OVEN_CONTAINER_MOIST = "oven_container_moist", "container with the moist mixture before the oven"
    DRIED = "dried", "specimen in air, dried to constant mass after it was weighed in water"
    DRIED_BEFORE = "dried_before", "specimen in air at the last weighing but one of the drying"
    VOLUMETER_WATER = "volumeter_water", "volumeter filled with water, in air"
    VOLUMETER_SPECIMEN = "volumeter_specimen", "volumeter with the specimen, filled with water, in air"
    SEALED = "sealed", "specimen sealed in its bag, in air"
    SEALED_SUBMERGED = "sealed_submerged", "specimen sealed in its bag, in water"
    UNSEALED = "unsealed", "specimen taken out of its bag, in air"
    SPLIT_FIRST = "split_first", "first catch pan of a splitter"
    SPLIT_SECOND = "split_second", "second catch pan of a splitter"
    MEASURE = "measure", "empty cylindrical measure"
    MEASURE_SAMPLE = "measure_sample", "measure filled with fine aggregate and struck off"
    MEASURE_PLATE = "measure_plate", "measure with grease and glass plate"
    MEASURE_PLATE_WATER = "measure_plate_water", "measure with grease and glass plate, filled with water"
    FRACTURED = "fractured", "particles with one or more fractured faces"
    QUESTIONABLE = "questionable", "particles questionable as to one fractured face"
    NOT_FRACTURED = "not_fractured", "particles without a fractured face"
    FRACTURED_TWO = "fractured_two", "particles with two or more fractured faces"
    QUESTIONABLE_TWO = "questionable_two", "particles questionable as to a second fractured face"
    NOT_FRACTURED_TWO = "not_fractured_two", "particles without a second fractured face"
    PARTICLES = "particles", "particles of one size examined for their shape"
    FLAT = "flat", "flat particles of one size"
    ELONGATED = "elongated", "elongated particles of one size"
    FLAT_ELONGATED = "flat_elongated", "flat and elongated particles of one size"


#: Roles whose masses are told apart by the sieve the particles were retained on.
SIEVED_ROLES = (
    MassRole.RETAINED,
    MassRole.PARTICLES,
    MassRole.FLAT,
    MassRole.ELONGATED,
    MassRole.FLAT_ELONGATED,
)


class LengthRole(Word):
    """What a length was read for; the formulas name its mean `length_<role>`."""

    HEIGHT = "height", "height of the specimen"
    DIAMETER = "diameter", "diameter of the specimen"
    THICKNESS = "thickness", "thickness of the core or lift"
    SAND = "sand", "reading of the sand"
    CLAY = "clay", "reading of the clay"


class Wheel(Word):
    """Side of a wheel tracker."""

    LEFT = "left", "left wheel seen from the operator"
    RIGHT = "right", "right wheel seen from the operator"


class Conditioning(Word):
    """What a strength specimen went through before its test."""

    DRY = "dry", "kept dry"
    CONDITIONED = "conditioned", "saturated with water, frozen where the method asks for it, and soaked"


class BurnPurpose(Word):
    """What a mixture was burnt for."""

    TEST = "test", "the binder content of a sample"
    CALIBRATION = "calibration", "the correction factor of the furnace: a mixture of known binder content"


class StopRule(Word):
    """What ends a gyratory compaction."""

    GYRATIONS = "gyrations", "a number of gyrations"
    HEIGHT = "height", "a specimen height"


class StopReason(Word):
    """Why a wheel-tracking run ended."""

    PASSES = "passes", "the set number of passes was reached"
    DEPTH = "depth", "the set depth was reached"
    OPERATOR = "operator", "ended early by hand"


class Outcome(Word):
    """Result of a calibration."""

    ACCEPTED = "accepted", "within the tolerances of the procedure"
    REJECTED = "rejected", "outside the tolerances: results since the last good one are in doubt"


class Basis(Word):
    """What the numbers of a specification limit mean."""

    ABSOLUTE = "absolute", "lower and upper are limits of the value itself"
    FROM_TARGET = "from_target", "lower and upper are allowed differences from the mix-design target"


class Level(Word):
    """What a property value describes."""

    SPECIMEN = "specimen", "one specimen, core, test portion or wheel"
    SAMPLE = "sample", "one sample, as a rule the mean of its specimens"


class Verdict(Word):
    """Judgement of one result against one limit."""

    PASS = "pass", "within the limit, by the whole guard band where the rule has one"
    CONDITIONAL_PASS = "conditional_pass", "within the limit, but by less than the guard band"
    CONDITIONAL_FAIL = "conditional_fail", "outside the limit, but by less than the guard band"
    FAIL = "fail", "outside the limit"
    NOT_JUDGED = "not_judged", "no verdict; the reason stands beside it"


class LimitUse(Word):
    """What a limit of a specification set is for."""

    ACCEPTANCE = "acceptance", "results beyond it fail"
    ACTION = "action", "results beyond it call for action at the plant; they are charted"
    SUSPENSION = "suspension", "results beyond it suspend production; they are charted"


class CompositeRule(Word):
    """How the pay factors of a lot's properties give one."""

    WEIGHTED = "weighted", "mean of the factors by their weights"
    LOWEST = "lowest", "the lowest factor counts"


class OutlierTest(Word):
    """How results of a lot that stand out are looked for."""

    E178 = "e178", "single outlier by ASTM E178, two-sided, 5 %"
    DIXON = "dixon", "ratio of the gap at an end to the range, 5 % one-sided"


class ComparisonKind(Word):
    """What is held against what."""

    DUPLICATE = "duplicate", "specimens of one sample against the single-operator precision"
    SPLIT = "split", "two halves of one sample against the precision that holds between them"
    PAIRED = "paired", "all split samples of one mix by two laboratories: paired t"
    INDEPENDENT = "independent", "samples of one mix taken by two laboratories on their own: F, then t"
    BIAS = "bias", "all split samples of two laboratories, whatever the project: paired t"
    INSTRUMENT = "instrument", "all split samples weighed on one instrument against the other laboratory: paired t"
    PHASE = "phase", "one mix in two phases, or a phase against its design"


class ItemKind(Word):
    """What a line of the work list is about."""

    MISSING = "missing", "a result the specification set requires is not there"
    INVALID = "invalid", "a result is there, but must not be judged"
    IN_DOUBT = "in_doubt", "a result lies closer to its limit than its uncertainty"
    OVERDUE = "overdue", "required results are not there and their day has passed or will"
    LATE = "late", "results came after the agreed day"
    NO_REGISTER = "no_register", "records name a sample the register does not have"
    RETEST = "retest", "a lot owes a retest"
    REMOVAL = "removal", "a lot lies beyond the removal threshold"
    OUTLIER = "outlier", "a result of a lot stands out"
    CALIBRATION = "calibration", "the calibration of an instrument ends or has ended"
    LAPSED = "lapsed", "an instrument was used on a day without a valid calibration"
    STARTUP = "startup", "start-up tests are owed"
    STOP = "stop", "production is stopped, or a step after a failing result is owed"
    BIAS = "bias", "two laboratories differ by more than chance"
    SIGNAL = "signal", "a control chart signals"
    SET_AT_FAULT = "set_at_fault", "a specification set contradicts itself"


class MixState(Word):
    """Where the production of a mix stands after its last result (NJDOT 902.02.04.D)."""

    IN_CONTROL = "in_control", "nothing is owed"
    CHECK = "check", "an acceptance sample was out: a control sample is owed at once"
    WATCH = "watch", "a control sample was out"
    CORRECT = "correct", "acceptance and control sample were out: corrective action is owed"
    CONFIRM = "confirm", "a control sample is in again: an acceptance sample is owed at once to confirm"
    STOPPED = "stopped", "too many samples in a row were out: production and shipping stop until restart is agreed"


class PlaceKind(Word):
    """What a drawn place is a place of."""

    TONNAGE = "tonnage", "loose mix, by the tonnage produced"
    CORE = "core", "core, by station and offset"


class CalibrationState(Word):
    """What the register knows of an instrument on a day."""

    COVERED = "covered", "in calibration"
    LAPSED = "lapsed", "calibration lapsed"
    REJECTED = "rejected", "rejected at its last calibration"
    UNKNOWN = "unknown", "no calibration known"


class ReportPart(Word):
    """Which part of a sample report an entry stands in."""

    IDENTIFICATION = "identification", "what was tested, for whom, by whom"
    CHAIN = "chain", "days from sampling to the result"
    RESULT = "result", "a result of the sample, with all that belongs to it"
    LIMIT = "limit", "a limit a result was held against, and the verdict"
    SPECIMEN = "specimen", "a figure of one specimen"
    INSTRUMENT = "instrument", "an instrument the sample went over, and its calibration"
    DEVIATION = "deviation", "what was not as the method or the contract asks"
    REMARK = "remark", "a remark of the operator"


class Purpose(Word):
    """What a sample was taken for."""

    ACCEPTANCE = "acceptance", "to accept and pay the work"
    CONTROL = "control", "quality control of the producer"


class DecisionRule(Word):
    """How the uncertainty of a single result counts in its verdict (ILAC-G8:09/2019)."""

    SIMPLE = "simple", "within the limit is a pass; the risk at the limit is shared"
    GUARD_BAND = "guard_band", "a pass keeps the guard band's distance from the limit; all else is a fail"
    CONDITIONAL = (
        "conditional",
        "as with a guard band, but within it either side of the limit the verdict is conditional",
    )


class RoundingMethod(Word):
    """How a result is held against a limit (ASTM E29)."""

    ABSOLUTE = "absolute", "the unrounded result counts: any excess is outside"
    ROUNDING = "rounding", "the result is first rounded to the place of the limit's last digit"


class FreedomForm(Word):
    """Degrees of freedom of the t-test on unequal variances."""

    WELCH = "welch", "with n - 1 below (Welch, Satterthwaite)"
    PLUS_ONE = "plus_one", "with n + 1 below and 2 less in all, as in FHWA and AASHTO sheets (from memory)"


class LookUp(Word):
    """How a percentage within limits is read for a quality index."""

    CLOSED_FORM = "closed_form", "computed from the symmetric beta distribution behind every table"
    Q_HUNDREDTHS = "q_hundredths", "table entered with Q rounded to 0.01, which gives the percentage to 0.01"
    NEXT_PWL = "next_pwl", "table of Q to 0.01 by whole percentages; between two lines the higher percentage"
    NEXT_PWL_FINE = "next_pwl_fine", "the same table with Q to four decimals"


class Stage(Word):
    """Step at which something was refused or left waiting."""

    INTAKE = "intake", "before any importer saw it"
    RECOGNISE = "recognise", "no importer, or more than one, claims the file"
    READ = "read", "the importer could not read it"
    VALIDATE = "validate", "a value breaks the record's schema"
    MATCH = "match", "accepted and kept, waiting for a register entry it names"
    DERIVE = "derive", "accepted and kept, but the figures contradict each other"


class ExportState(Word):
    """What became of an export."""

    READ = "read", "read, every row accepted"
    PARTLY = "partly", "read, some rows refused"
    REFUSED = "refused", "nothing of it was accepted; the bytes are kept"
