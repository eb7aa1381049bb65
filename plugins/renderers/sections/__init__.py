"""Sections of pages: each function gives the markup of one section for all owners at once."""
