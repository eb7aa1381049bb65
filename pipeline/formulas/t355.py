"""AASHTO T 355: density in place by gauge, corrected by its mean difference from cores cut where it was read."""

import polars as pl

from pipeline.formulas.conditions import at_least, at_most
from pipeline.formulas.model import FROM_MEMORY, Bound, Check, Formula, Grain, Mean, Property, bounds
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 355"

DIFFERENCE = Property(
    "core_gauge_difference", "Δρ", "density of the core less density the gauge shows there", "kg/m³", 1
)
CORRELATION = Property(
    "core_gauge_correlation",
    "core correlation",
    "mean difference of cores and gauge in the lot",
    "kg/m³",
    1,
    missing="core correlation missing: no place of the lot has both a core and a reading of this gauge, and none is "
    "stated with the reading",
)
CORRECTED = Property("gauge_density_corrected", "ρ corrected", "density by gauge, corrected to cores", "kg/m³", 0)
RELATIVE_COMPACTION = Property(
    "relative_compaction_gauge", "%Gmm by gauge", "corrected density by gauge as a share of that of Gmm", "%", 1
)

ONE_GAUGE = Check(
    code="gauges_mixed",
    sentence="more than one gauge was read at this place: each has a correlation of its own",
    inputs=("gauges",),
    holds=lambda gauges: gauges == 1,
    limit="one gauge at a place",
    source="AASHTO T 355, correlation of each gauge",
    mark=FROM_MEMORY,
    effect="withhold",
)

DIFFERENCES = Formula(
    property=DIFFERENCE,
    grain=Grain.SPECIMEN,
    route="of_place",
    standard=STANDARD,
    section="core correlation (WAQTC FOP, from memory)",
    equation="Δρ = density of the core - mean of the gauge's readings at its place",
    inputs=("core_density", "gauge_density"),
    expression=lambda core, gauge: core - gauge,
    lead=("gauge_density",),
    applies=pl.col("core_density").is_not_null(),
    checks=(ONE_GAUGE,),
    method=Method.T355,
    material=Material.CORE,
)

PAIRS = Check(
    code="correlation_of_few_cores",
    sentence="the core correlation rests on few cores",
    inputs=("n",),
    holds=at_least,
    bounds=(Bound("t355_cores", 10),),
    limit="{} cores",
    source="WAQTC FOP for AASHTO T 355, core correlation",
    mark=FROM_MEMORY,
)
SCATTER = Check(
    code="correlation_scatters",
    sentence="the differences of cores and gauge scatter widely",
    inputs=("spread",),
    holds=at_most,
    bounds=bounds("kg_m3", t355_scatter=40),
    limit="standard deviation at most {} kg/m³ (as shipped 2.5 lb/ft³)",
    source="WAQTC FOP for AASHTO T 355, core correlation",
    mark=FROM_MEMORY,
)
CORRELATIONS = Mean(
    property=CORRELATION,
    grain=Grain.SPECIMEN,
    of=DIFFERENCE,
    of_grain=Grain.SPECIMEN,
    method=Method.T355,
    route="of_lot",
    standard=STANDARD,
    section="core correlation (WAQTC FOP, from memory)",
    over=("project_id", "mix_id", "lot", "gauge"),
    material=Material.CORE,
    checks=(PAIRS, SCATTER),
)
STATED = Formula(
    property=CORRELATION,
    grain=Grain.SPECIMEN,
    route="stated",
    standard=STANDARD,
    section="core correlation (WAQTC FOP, from memory)",
    equation="core correlation as stated with the reading",
    inputs=("correlation",),
    expression=lambda stated: stated * 1.0,
    method=Method.T355,
    material=Material.CORE,
)
CORRECTION = Formula(
    property=CORRECTED,
    grain=Grain.SPECIMEN,
    route="by_cores",
    standard=STANDARD,
    section="core correlation (WAQTC FOP, from memory)",
    equation="corrected density = mean of the gauge's readings + core correlation",
    inputs=("gauge_density", "core_gauge_correlation"),
    expression=lambda gauge, correlation: gauge + correlation,
    lead=("gauge_density",),
    checks=(ONE_GAUGE,),
    method=Method.T355,
    material=Material.CORE,
)
COMPACTION = Formula(
    property=RELATIVE_COMPACTION,
    grain=Grain.SPECIMEN,
    route="against_lot",
    standard=STANDARD,
    section="share of Gmm of the lot",
    equation="relative compaction = 100 · corrected density / (Gmm · density of water), with Gmm the mean of the lot",
    inputs=("gauge_density_corrected", "gmm", "water_density"),
    takes=(("gmm", "gmm_lot"),),
    expression=lambda density, gmm, water: 100 * density / (gmm * water),
    defaults=(("water_density", 997.1),),
    method=Method.T355,
    material=Material.CORE,
    parameters=("water_kg_m3",),
)


def _mean(prop: Property) -> Mean:
    return Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.T355,
        standard=STANDARD,
        material=Material.CORE,
    )


OF_SAMPLE = (_mean(CORRECTED), _mean(RELATIVE_COMPACTION))
