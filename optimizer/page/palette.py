"""The colours of a page, by what they stand for, on a light and on a dark ground.

A chart is drawn with stand-ins, which become CSS variables: so one drawing serves both grounds.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Colour:
    """A colour on a light ground, on a dark one, and what stands for it while a chart is drawn."""

    light: str
    dark: str
    stand_in: str


PALETTE = {
    "ground": Colour("#fbfaf6", "#15191c", "#0a0b01"),
    "sheet": Colour("#ffffff", "#1d2226", "#0a0b02"),
    "ink": Colour("#1c2226", "#e9ecea", "#0a0b03"),
    "quiet": Colour("#4c565c", "#b3bcbf", "#0a0b04"),
    "line": Colour("#c9ccc6", "#414a50", "#0a0b05"),
    "bath": Colour("#0b5a78", "#6fc3e4", "#0a0b06"),
    "ware": Colour("#7a4a00", "#e8b45a", "#0a0b07"),
    "heat": Colour("#a3301c", "#ff9d85", "#0a0b08"),
    "good": Colour("#1f6130", "#86d69a", "#0a0b09"),
    "link": Colour("#0b4f8a", "#8cc4ff", "#0a0b0a"),
}
TEXT = ("ink", "quiet", "bath", "ware", "heat", "good", "link")
"""Colours that words are written in: 4.5 to 1 against both grounds (WCAG 2.2, 1.4.3)."""

SHAPES = ("bath", "ware", "heat", "good")
"""Colours of lines and bars: 3 to 1 (WCAG 2.2, 1.4.11)."""

GROUNDS = ("ground", "sheet")


def stand_in(name: str) -> str:
    """Give what a chart is drawn with."""
    return PALETTE[name].stand_in


def variables(ground: str) -> str:
    """Write the CSS variables for a ``light`` or a ``dark`` ground."""
    return " ".join(f"--{name}: {getattr(colour, ground)};" for name, colour in PALETTE.items())


def contrast(first: str, second: str) -> float:
    """Contrast of two colours: ``(L1 + 0.05) / (L2 + 0.05)``, the lighter over the darker (WCAG 2.2).

    Examples
    --------
    >>> contrast("#000000", "#ffffff"), round(contrast("#777777", "#ffffff"), 2)
    (21.0, 4.48)
    """
    lighter, darker = sorted(map(_luminance, (first, second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance of a colour written ``#rrggbb`` (WCAG 2.2)."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
