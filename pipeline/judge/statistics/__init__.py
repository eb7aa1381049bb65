"""Acceptance and comparison statistics: pure functions over frames; they know no sample, project or store."""
