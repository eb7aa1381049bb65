"""Validation of the installed version: every published value recomputed, and the record of it."""
