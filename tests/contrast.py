"""How well two colours can be told apart."""

from __future__ import annotations


def contrast(one, other):
    """Contrast ratio, 1 to 21, of two colours such as "#005b94".

    Relative luminance as in the W3C's Web Content Accessibility Guidelines 2.1: 3 is asked of graphics, 4.5 of text.
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour):
    parts = [part / 255.0 for part in bytes.fromhex(colour.removeprefix("#"))]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
