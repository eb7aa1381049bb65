"""Judgement: pure functions over property rows."""
