"""ASTM D8360: rapid shear rutting index."""

from pipeline.formulas.load_tests import PEAK, mean_of, quantity
from pipeline.formulas.model import FROM_MEMORY, Formula, Grain, Property
from schemas.vocabulary import Method

STANDARD = "ASTM D8360"
_CHOICES = (PEAK, "shear_factor")
#: Width of the loading strip where it was not recorded, mm.
STRIP = 19.1

QUANTITIES = (
    quantity("strip_width", "w", "width of the loading strip", "mm"),
    quantity("shear_factor", "k", "factor of the shear strength, by the settings", None, "factor k missing"),
)
SHEAR_STRENGTH = Property("shear_strength", "τ", "shear strength", "kPa", 0)
RAPID_SHEAR = Property("rapid_shear_index", "RT index", "rapid shear rutting index", None, 0)

SHEAR = Formula(
    property=SHEAR_STRENGTH,
    grain=Grain.SPECIMEN,
    route="strips",
    standard=STANDARD,
    section=f"calculation; k = 0.356 {FROM_MEMORY}, one published table rests on 0.365",
    equation="τ = 1000 k P / (t w), with P in N, t and w in mm",
    inputs=("peak_load", "specimen_thickness", "strip_width", "shear_factor"),
    expression=lambda load, thickness, width, factor: 1000 * factor * load / (thickness * width),
    defaults=(("strip_width", STRIP),),
    method=Method.D8360,
    parameters=_CHOICES,
)
INDEX = Formula(
    property=RAPID_SHEAR,
    grain=Grain.SPECIMEN,
    route="strips",
    standard=STANDARD,
    section="calculation; the constant holds in 19 published tests",
    equation="RT = 6.618·10⁻⁵ τ / (1 Pa), with τ in kPa · 1000",
    inputs=("shear_strength",),
    expression=lambda strength: 6.618e-5 * strength * 1000,
    method=Method.D8360,
    parameters=_CHOICES,
)
MEANS = (
    mean_of(SHEAR_STRENGTH, Method.D8360, STANDARD, parameters=_CHOICES),
    mean_of(RAPID_SHEAR, Method.D8360, STANDARD, parameters=_CHOICES),
)
