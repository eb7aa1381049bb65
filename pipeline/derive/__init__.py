"""Records of touched samples -> derived figures, densification curves, contradictions."""

from pipeline.derive.derivation import Derived, Inputs, derive

__all__ = ["Derived", "Inputs", "derive"]
