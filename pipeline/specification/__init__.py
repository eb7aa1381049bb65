"""Specification sets outside the warehouse: read from a file, checked, told in words; and what changed in them."""

from pathlib import Path

#: A whole set built only on published tables.
EXAMPLE = Path(__file__).with_name("published.toml")
