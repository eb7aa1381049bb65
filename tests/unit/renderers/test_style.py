"""Contrast of every text colour with its ground, in light, dark and print (WCAG 2.2, 1.4.3: at least 4.5 to 1)."""

import re

import pytest

from plugins.renderers.verbs.shell import style

#: Colours of text; marks of plots need 3 to 1 (WCAG 2.2, 1.4.11).
_TEXT = ("ink", "soft", "link", "pass", "fail", "open")
_MARKS = ("s0", "s1", "s2", "s3", "fail", "ink")


def _schemes() -> dict[str, dict[str, str]]:
    blocks = re.findall(r":root\{([^}]*)\}", style())
    assert len(blocks) == 3
    light = dict(re.findall(r"--([\w-]+):(#\w+)", blocks[0]))
    dark, paper = (dict(re.findall(r"--([\w-]+):(#\w+)", block)) for block in blocks[1:])
    return {"light": light, "dark": light | dark, "print": light | paper}


def _luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(c * 2 for c in colour[1:])
    channels = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_measured_as_published() -> None:
    # WCAG 2.2 defines the ratio of black on white as 21 to 1.
    assert round(_contrast("#000", "#ffffff"), 6) == 21.0


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
def test_text_and_marks_stand_out(scheme: str) -> None:
    colours = _schemes()[scheme]
    for name in _TEXT:
        assert _contrast(colours[name], colours["paper"]) >= 4.5, name
    for name in _MARKS:
        assert _contrast(colours[name], colours["paper"]) >= 3, name
        assert _contrast(colours[name], colours["band"]) >= 3, name


def test_the_style_asks_for_nothing_outside() -> None:
    assert not re.search(r"@import|url\(|@font-face", style())
