"""Checks of the circumstances under which gravities were weighed: temperatures, times, balance, size of specimen."""

from pipeline.formulas.conditions import near, within
from pipeline.formulas.minimum_mass import rungs, told
from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Bound, Check, Property, around, bounds

ROOM_TEMPERATURE = Check(
    code="specimen_temperature_off",
    sentence="the specimen was not at room temperature when it was weighed dry",
    inputs=("specimen_temperature",),
    holds=near,
    bounds=around("c", "specimen_temperature", 25, 5),
    limit="{} ± {} °C",
    source="AASHTO T 166:16(2020), 6.2",
)
IMMERSION = Check(
    code="immersion_time_off",
    sentence="the specimen was too short or too long in the bath",
    inputs=("immersion_time",),
    holds=near,
    bounds=around("min", "immersion_time", 4, 1),
    limit="{} ± {} min in the bath",
    source="AASHTO T 166:16(2020), 6.2",
)
BALANCE = Check(
    code="balance_too_coarse",
    sentence="the balance is not fine enough for the mass",
    inputs=("balance_step", "mass_dry"),
    holds=lambda step, mass, share: step <= 0.01 * share * mass,
    bounds=bounds("pct", balance_step_of_mass=0.1),
    limit="readable to {} % of the mass or better",
    source="AASHTO T 166:16(2020), apparatus; AASHTO T 331:2021, 5.3",
)
OVEN = Check(
    code="oven_temperature_off",
    sentence="the oven was not at the temperature of the method",
    inputs=("oven_temperature",),
    holds=near,
    bounds=around("c", "drying_oven", 110, 5),
    limit="{} ± {} °C",
    source="WAQTC FOP for AASHTO T 166, method C",
)
CONSTANT_MASS = Check(
    code="not_at_constant_mass",
    sentence="the mass had not become constant in drying",
    inputs=("mass_dried_before", "mass_dried"),
    holds=lambda before, last, change: (before - last).abs() <= 0.01 * change * last,
    bounds=bounds("pct", constant_mass_change=0.05),
    limit="change of at most {} % between the last two weighings",
    source="WAQTC FOP for AASHTO T 166 (09)",
)
THICK_ENOUGH = Check(
    code="specimen_small_for_aggregate",
    sentence="the specimen is small for its aggregate",
    inputs=("core_thickness", "design_maximum_size"),
    holds=lambda thickness, size, times: thickness >= times * size,
    bounds=bounds("times", core_thickness_of_size=1.5),
    limit="thickness at least {} times the maximum size (recommended)",
    source="AASHTO T 166:16(2020), 4.2",
)
LARGE_ENOUGH = Check(
    code="specimen_small_for_aggregate",
    sentence="the specimen is small for its aggregate",
    inputs=("mould_diameter", "design_maximum_size"),
    holds=lambda diameter, size, times: diameter >= times * size,
    bounds=bounds("times", specimen_diameter_of_size=4),
    limit="diameter at least {} times the maximum size (recommended)",
    source="AASHTO T 166:16(2020), 4.2",
)
VACUUM_TIME = Check(
    code="vacuum_time_off",
    sentence="the vacuum was held too short or too long",
    inputs=("vacuum_time",),
    holds=near,
    bounds=around("min", "t209_vacuum_time", 15, 2),
    limit="{} ± {} min",
    source="ASTM D2041",
)
SHAKER = Check(
    code="shaker_rate_off",
    sentence="the shaker did not run at its rate",
    inputs=("shaker_rate",),
    holds=near,
    bounds=around("per_min", "t209_shaker", 270, 10),
    limit="{} ± {} per minute",
    source="Florida asphalt plant level 1 study cards",
)
CONTAINER = Check(
    code="container_volume_off",
    sentence="the container is smaller or larger than the method allows",
    inputs=("container_volume",),
    holds=within,
    bounds=bounds("ml", t209_container_least=2000, t209_container_largest=10_000),
    limit="{} to {} mL",
    source="AASHTO T 209-19, apparatus; WAQTC FOP for AASHTO T 209 (12)",
)
SAMPLE_MASS = Check(
    code="sample_too_small",
    sentence="the portions tested are together lighter than the method wants",
    inputs=("portions_mass", "gmm_least_mass"),
    # Which edition's ladder counts is a choice of the settings, so the mass comes with the sample.
    holds=lambda mass, least, *_: mass >= least,
    bounds=(*rungs("t209"), *rungs("t209_older")),
    limit=f"at least, up to a nominal size of {told('t209')}; older editions {told('t209_older')}",
    source="AASHTO T 209, minimum size of the sample",
    mark=FROM_MEMORY,
)


def usual_gravity(prop: Property) -> Check:
    """Return the check that a bulk gravity of a compacted specimen is one a mixture may have."""
    return Check(
        code="gravity_unusual",
        sentence="the gravity lies outside what asphalt mixtures usually have",
        inputs=(prop.name,),
        holds=lambda gravity, usual: gravity > usual,
        bounds=(Bound("usual_gmb_above", 2),),
        limit="Gmb above {}",
        source="usual range of asphalt mixtures",
        mark=COMMON_PRACTICE,
    )


USUAL_MAXIMUM = Check(
    code="gravity_unusual",
    sentence="the gravity lies outside what asphalt mixtures usually have",
    inputs=("gmm",),
    holds=within,
    bounds=(Bound("usual_gmm_least", 2.4), Bound("usual_gmm_largest", 2.7)),
    limit="Gmm {} to {} (typical)",
    source="Pavement Interactive, theoretical maximum specific gravity",
)
