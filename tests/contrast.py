"""Contrast of two colors as WCAG 2.2 has it (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio, from memory)."""

from __future__ import annotations

from matplotlib.colors import to_rgb


def luminance(color: str) -> float:
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one: str, other: str = "white") -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
