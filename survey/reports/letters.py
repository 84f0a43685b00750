"""Letters of a round that a paper's fonts may lack: shown by another font, or named, never a box.

The fonts that typst brings along have Latin, Greek, Cyrillic, Hebrew and Arabic letters. Others,
Japanese or Thai ones, are looked for among the fonts of the machine; what none of those has
either stands as its number, which tells two tags apart where two boxes would not.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

FONTS = ("Libertinus Serif", "DejaVu Sans Mono", "New Computer Modern")
"""Those that typst brings along, the one for most of the text first."""
MACHINE_FONTS = True
"""Whether fonts of this machine may help out."""
_COMMON = re.compile(r"[\u0000-\u024f\u0370-\u03ff\u0400-\u045f\u2010-\u2026\u202f\u20ac\u2212…]")
_NOT_SHOWN = re.compile(r"the text `\"(.*?)\"` could not be displayed", re.DOTALL)
_NUMBERED = re.compile(r"\\u\{([0-9a-f]+)\}")


@dataclass(frozen=True)
class Shown:
    """Text as it can be set.

    Parameters
    ----------
    text
        The text, each letter without a shape replaced by its number.
    missing
        Those letters.
    machine_fonts
        Whether fonts of this machine are needed for the rest.
    """

    text: str
    missing: frozenset[str]
    machine_fonts: bool


def shown(text: str) -> Shown:
    """Return text with a stand-in for every letter that none of the fonts has."""
    unusual = frozenset(_COMMON.sub("", text))
    missing = _without_shape(unusual, machine_fonts=False) if unusual else frozenset()
    machine_fonts = bool(missing) and MACHINE_FONTS
    if machine_fonts:
        missing = _without_shape(missing, machine_fonts=True)
    return Shown(without(text, missing), missing, machine_fonts)


def without(text: str, letters: Iterable[str]) -> str:
    """Return text with the number of each of these letters in its place: '[U+65E5]'."""
    table = {ord(letter): f"[U+{ord(letter):04X}]" for letter in letters}
    return text.translate(table) if table else text


def not_shown(complaint: str) -> frozenset[str]:
    """Return the letters that typst says it has no shape for; plain ones are left out."""
    found = "".join(_NOT_SHOWN.findall(complaint))
    said = _NUMBERED.sub(lambda number: chr(int(number[1], 16)), found)
    return frozenset(_COMMON.sub("", said))


@cache
def _without_shape(letters: frozenset[str], *, machine_fonts: bool) -> frozenset[str]:
    import typst

    fonts = ", ".join(f'"{name}"' for name in FONTS)
    probe = f'#set document(title: "x")\n#set text(font: ({fonts}))\n#sys.inputs.data'
    try:
        typst.compile(
            probe.encode(), format="pdf", sys_inputs={"data": " ".join(sorted(letters))},
            pdf_standards=["ua-1"], ignore_system_fonts=not machine_fonts,
        )
    except typst.TypstError as error:
        return not_shown(error.diagnostic) & letters
    return frozenset()
