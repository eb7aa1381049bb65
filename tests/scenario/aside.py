"""Chance for tests beside the main ones: each has a generator of its own, so that no other export changes."""

import zlib

import numpy as np


def chance(label: str, *tags: object) -> np.random.Generator:
    """Return the generator of one test of a sample, by its label and words that tell the test."""
    text = "/".join([label, *map(str, tags)])
    return np.random.Generator(np.random.PCG64(zlib.crc32(text.encode())))
