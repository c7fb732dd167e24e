"""Contrast of two colours after WCAG 2.2, success criterion 1.4.3: relative luminance of sRGB."""

from __future__ import annotations


def contrast(one: str, other: str) -> float:
    """The ratio, from 1 (the same) to 21 (black on white); colours as RRGGBB."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
