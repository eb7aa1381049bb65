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
    CORE = "core", "cores cut from the compacted pavement"
    AGGREGATE = "aggregate", "aggregate of a stockpile or of the blend"


class Method(Word):
    """Test method a record belongs to, by the designation of its standard."""

    T166 = "t166", "AASHTO T 166, bulk specific gravity of compacted specimens, surface-dry"
    T209 = "t209", "AASHTO T 209, theoretical maximum specific gravity of loose mixture"
    T308 = "t308", "AASHTO T 308, binder content by ignition"
    T30 = "t30", "AASHTO T 30 with T 11, washed gradation of extracted aggregate"
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


class Purpose(Word):
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

    PASS = "pass", "within the limit"
    FAIL = "fail", "outside the limit"
    NOT_JUDGED = "not_judged", "no verdict; the reason stands beside it"


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
