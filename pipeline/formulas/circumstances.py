"""Checks of the circumstances under which gravities were weighed: temperatures, times, balance, size of specimen."""

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Property

ROOM_TEMPERATURE = Check(
    code="specimen_temperature_off",
    sentence="the specimen was not at room temperature when it was weighed dry",
    inputs=("specimen_temperature",),
    holds=lambda temperature: (temperature - 25).abs() <= 5,
    limit="25 ± 5 °C",
    source="AASHTO T 166:16(2020), 6.2",
)
IMMERSION = Check(
    code="immersion_time_off",
    sentence="the specimen was too short or too long in the bath",
    inputs=("immersion_time",),
    holds=lambda minutes: (minutes - 4).abs() <= 1,
    limit="4 ± 1 min in the bath",
    source="AASHTO T 166:16(2020), 6.2",
)
BALANCE = Check(
    code="balance_too_coarse",
    sentence="the balance is not fine enough for the mass",
    inputs=("balance_step", "mass_dry"),
    holds=lambda step, mass: step <= 0.001 * mass,
    limit="readable to 0.1 % of the mass or better",
    source="AASHTO T 166:16(2020), apparatus; AASHTO T 331:2021, 5.3",
)
OVEN = Check(
    code="oven_temperature_off",
    sentence="the oven was not at the temperature of the method",
    inputs=("oven_temperature",),
    holds=lambda temperature: (temperature - 110).abs() <= 5,
    limit="110 ± 5 °C",
    source="WAQTC FOP for AASHTO T 166, method C",
)
CONSTANT_MASS = Check(
    code="not_at_constant_mass",
    sentence="the mass had not become constant in drying",
    inputs=("mass_dried_before", "mass_dried"),
    holds=lambda before, last: (before - last).abs() <= 0.0005 * last,
    limit="change of at most 0.05 % between the last two weighings",
    source="WAQTC FOP for AASHTO T 166 (09)",
)
THICK_ENOUGH = Check(
    code="specimen_small_for_aggregate",
    sentence="the specimen is small for its aggregate",
    inputs=("core_thickness", "design_maximum_size"),
    holds=lambda thickness, size: thickness >= 1.5 * size,
    limit="thickness at least 1.5 times the maximum size (recommended)",
    source="AASHTO T 166:16(2020), 4.2",
)
LARGE_ENOUGH = Check(
    code="specimen_small_for_aggregate",
    sentence="the specimen is small for its aggregate",
    inputs=("mould_diameter", "design_maximum_size"),
    holds=lambda diameter, size: diameter >= 4 * size,
    limit="diameter at least 4 times the maximum size (recommended)",
    source="AASHTO T 166:16(2020), 4.2",
)
VACUUM_TIME = Check(
    code="vacuum_time_off",
    sentence="the vacuum was held too short or too long",
    inputs=("vacuum_time",),
    holds=lambda minutes: (minutes - 15).abs() <= 2,
    limit="15 ± 2 min",
    source="ASTM D2041",
)
SHAKER = Check(
    code="shaker_rate_off",
    sentence="the shaker did not run at its rate",
    inputs=("shaker_rate",),
    holds=lambda rate: (rate - 270).abs() <= 10,
    limit="270 ± 10 per minute",
    source="Florida asphalt plant level 1 study cards",
)
CONTAINER = Check(
    code="container_volume_off",
    sentence="the container is smaller or larger than the method allows",
    inputs=("container_volume",),
    holds=lambda volume: (volume >= 2000) & (volume <= 10_000),
    limit="2000 to 10 000 mL",
    source="AASHTO T 209-19, apparatus; WAQTC FOP for AASHTO T 209 (12)",
)
SAMPLE_MASS = Check(
    code="sample_too_small",
    sentence="the portions tested are together lighter than the method wants",
    inputs=("portions_mass", "gmm_least_mass"),
    holds=lambda mass, least: mass >= least,
    limit="37.5 mm 4000 g, 25 and 19 mm 2500 g, 12.5 mm and below 1500 g; older: 9.5 mm 1000 g, 4.75 mm 500 g",
    source="AASHTO T 209, minimum size of the sample",
    mark=FROM_MEMORY,
)


def usual_gravity(prop: Property) -> Check:
    """Return the check that a bulk gravity of a compacted specimen is one a mixture may have."""
    return Check(
        code="gravity_unusual",
        sentence="the gravity lies outside what asphalt mixtures usually have",
        inputs=(prop.name,),
        holds=lambda gravity: gravity > 2.0,
        limit="Gmb above 2.0",
        source="usual range of asphalt mixtures",
        mark=COMMON_PRACTICE,
    )


USUAL_MAXIMUM = Check(
    code="gravity_unusual",
    sentence="the gravity lies outside what asphalt mixtures usually have",
    inputs=("gmm",),
    holds=lambda gravity: (gravity >= 2.4) & (gravity <= 2.7),
    limit="Gmm 2.400 to 2.700 (typical)",
    source="Pavement Interactive, theoretical maximum specific gravity",
)
