"""Specification sets outside the warehouse: read from a file, checked, told in words; and what changed in them."""
