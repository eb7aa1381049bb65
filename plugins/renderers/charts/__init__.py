"""Plots as inline SVG text, built for all pages at once."""
