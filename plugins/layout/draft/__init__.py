"""Proposes a layout from example files: what was found in them, what it may mean, and how sure that is."""
