"""Fits of wheel-tracking records for many tests at once, on bare arrays: no frames, no names of figures."""
