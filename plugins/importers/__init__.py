"""Shipped importers: one folder each, with a layout or code, and a note."""
