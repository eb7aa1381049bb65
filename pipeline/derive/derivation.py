"""The derivation: a pure function of current records and named choices."""

from dataclasses import dataclass

import polars as pl

from pipeline.derive import engine, rows, tables
from pipeline.derive.contradictions import contradictions
from pipeline.derive.inputs import Inputs
from pipeline.derive.uncertain import uncertain
from pipeline.formulas import registry
from pipeline.formulas.model import Grain
from pipeline.settings import Results, Uncertainty

__all__ = ["Derived", "Inputs", "derive"]


@dataclass(frozen=True)
class Derived:
    """What a derivation gives.

    Attributes
    ----------
    property_values
        Rows of `property_value` without validity, sorted by key.
    densification
        Rows of `densification` without validity, sorted by sample, specimen and gyration.
    step_density
        Rows of `step_density` without validity, sorted by sample, method, specimen and step.
    contradictions
        Rows of `refusal` without validity: weighings that contradict each other.
    samples
        The samples: `sample_id`, `project_id`, `mix_id`, `lot`, `material`, `phase`, `taken_on`, and of their mix
        design `revision` and `nmas_mm` (null where the mix is unknown).
    """

    property_values: pl.DataFrame
    densification: pl.DataFrame
    step_density: pl.DataFrame
    contradictions: pl.DataFrame
    samples: pl.DataFrame


def derive(
    inputs: Inputs,
    parameters: Results | None = None,
    doubts: Uncertainty | None = None,
    *,
    uncertainties: bool = True,
) -> Derived:
    """Derive every figure the records of these samples give.

    Parameters
    ----------
    inputs
        Current rows of the samples; see `Inputs`. Rows of samples the register does not know give nothing.
    parameters
        Named choices of the methods; the defaults where None.
    doubts
        How uncertainties are worked out; the defaults where None.
    uncertainties
        Whether they are worked out at all.
    """
    choices = parameters or Results()
    catalogue = registry.load(choices.limits)
    derived = engine.run(tables.build(inputs, choices), catalogue, choices)
    frames = derived
    if uncertainties:
        frames = uncertain(derived, catalogue, inputs.weighing, inputs.instrument, doubts or Uncertainty())
    return Derived(
        property_values=rows.property_values(frames, catalogue),
        densification=rows.densification(frames),
        step_density=rows.step_density(frames),
        contradictions=contradictions(frames, catalogue, inputs.weighing),
        samples=frames[Grain.SAMPLE, None].select(tables.SAMPLE_FACTS),
    )
