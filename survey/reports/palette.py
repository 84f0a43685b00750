"""The colours of every page and chart, light and dark: ink on paper, copper out, slate held back.

No colour carries meaning alone: a state is always written, and in a chart each group also has
a texture of its own, so that a grey print or a colour-blind reader loses nothing.
"""

from __future__ import annotations

LIGHT = {
    "paper": "#f8f5ef",
    "sheet": "#fffdf9",
    "ink": "#23262a",
    "soft": "#595c60",
    "rule": "#d8d0c4",
    "copper": "#9c4a1a",
    "copper-wash": "#f3e1d3",
    "slate": "#3b5a78",
    "slate-wash": "#dfe7ee",
    "quiet": "#85878a",
    "quiet-wash": "#e9e6e0",
}
DARK = {
    "paper": "#17191c",
    "sheet": "#1f2226",
    "ink": "#ece7de",
    "soft": "#b4afa6",
    "rule": "#3b3f45",
    "copper": "#e69b68",
    "copper-wash": "#43301f",
    "slate": "#92b5d6",
    "slate-wash": "#25323f",
    "quiet": "#7f848b",
    "quiet-wash": "#2a2d31",
}
GROUP_COLOURS = {"out": "copper", "held": "slate", "undecided": "soft", "working": "quiet"}
"""The colour of each group in `words.GROUPS`."""

TEXT_PAIRS = (
    ("ink", "paper"), ("ink", "sheet"), ("soft", "paper"), ("soft", "sheet"),
    ("copper", "paper"), ("copper", "sheet"), ("slate", "paper"), ("slate", "sheet"),
    ("ink", "copper-wash"), ("ink", "slate-wash"), ("ink", "quiet-wash"),
    ("copper", "copper-wash"), ("slate", "slate-wash"), ("soft", "quiet-wash"),
)
"""Text colour and ground used together; each pair has a contrast of 4.5 to 1 or more."""

SHAPE_PAIRS = (
    ("copper", "sheet"), ("slate", "sheet"), ("quiet", "sheet"), ("soft", "sheet"),
    ("quiet", "paper"),
)
"""Shape and ground used together; each pair has a contrast of 3 to 1 or more."""


def css_variables() -> str:
    """Return the palette as CSS: light by default, dark where the reader's device asks for it."""
    return (
        f":root{{color-scheme:light dark;{_block(LIGHT)}}}"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{_block(DARK)}}}}}"
    )


def fixed(css: str) -> str:
    """Return style with the light colours themselves, for paper, in place of their names."""
    for name, colour in LIGHT.items():
        css = css.replace(f"var(--{name})", colour)
    return css


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    high, low = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _block(colours: dict[str, str]) -> str:
    return "".join(f"--{name}:{value};" for name, value in colours.items())


def _luminance(colour: str) -> float:
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
