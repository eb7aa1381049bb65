"""Tests: unit by room, contracts, check values, promises, pages, architecture."""
