"""Gravities as densities: times the density of water at 25 °C, in kg/m³ and, by hand, in lb/ft³."""

from dataclasses import replace

from pipeline.formulas.model import Formula, Grain, Property

DENSITY = Property("density", "ρ", "density of the compacted mixture", "kg/m³", 0)
MAXIMUM_DENSITY = Property("maximum_density", "ρ max", "density of the mixture without voids", "kg/m³", 0)
DENSITY_LB = Property("density_customary", "ρ", "density of the compacted mixture", "lb/ft³", 1)
MAXIMUM_DENSITY_LB = Property("maximum_density_customary", "ρ max", "density of the mixture without voids", "lb/ft³", 1)

OF_GMB = Formula(
    property=DENSITY,
    grain=Grain.SAMPLE,
    route="from_gmb",
    standard="AASHTO T 166",
    section="density",
    equation="density = Gmb · density of water at 25 °C (997.1 kg/m³, from memory; 1000 is also in print)",
    inputs=("gmb", "water_density"),
    expression=lambda gmb, water: gmb * water,
    defaults=(("water_density", 997.1),),
    parameters=("water_kg_m3",),
)
OF_GMM = replace(
    OF_GMB,
    property=MAXIMUM_DENSITY,
    route="from_gmm",
    standard="AASHTO T 209",
    equation=OF_GMB.equation.replace("Gmb", "Gmm"),
    inputs=("gmm", "water_density"),
)
#: The two constants in print are no exact conversions of each other, so each unit keeps its own.
OF_GMB_LB = replace(
    OF_GMB,
    property=DENSITY_LB,
    route="from_gmb_customary",
    equation="density = Gmb · 62.245 lb/ft³ (from memory; 62.4 is also in print)",
    inputs=("gmb", "water_density_customary"),
    defaults=(("water_density_customary", 62.245),),
    parameters=(),
    by_hand_only=True,
)
OF_GMM_LB = replace(
    OF_GMB_LB,
    property=MAXIMUM_DENSITY_LB,
    route="from_gmm_customary",
    standard="AASHTO T 209",
    equation=OF_GMB_LB.equation.replace("Gmb", "Gmm"),
    inputs=("gmm", "water_density_customary"),
)
