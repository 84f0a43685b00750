"""Contrast in light and dark (WCAG 2.2: 4.5 to 1 for text, 3 to 1 for shapes)."""

from __future__ import annotations

import re

import pytest

from survey.reports import palette
from survey.reports.page import style
from survey.reports.words import GROUPS

SCHEMES = {"light": palette.LIGHT, "dark": palette.DARK}


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("pairs", "least"), [(palette.TEXT_PAIRS, 4.5), (palette.SHAPE_PAIRS, 3)])
def test_contrast_holds(
    scheme: str, pairs: tuple[tuple[str, str], ...], least: float
) -> None:
    colours = SCHEMES[scheme]
    found = {pair: palette.contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs}
    assert {pair: ratio for pair, ratio in found.items() if ratio < least} == {}


def test_contrast_is_reckoned_as_the_guideline_reckons() -> None:
    assert palette.contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert palette.contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_both_schemes_have_the_same_colours_and_the_style_uses_no_other() -> None:
    assert set(palette.LIGHT) == set(palette.DARK)
    assert set(palette.GROUP_COLOURS) == set(GROUPS)
    used = set(re.findall(r"var\(--([a-z-]+)\)", style()))
    assert used <= set(palette.LIGHT)
    after = style().removeprefix(palette.css_variables())
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b(?!\{)", re.sub(r"#shown", "", after))
