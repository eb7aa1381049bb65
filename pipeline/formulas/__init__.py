"""Formulas of the test methods, one module per method, found by the registry."""
