"""Steam trap survey rounds in; ranked findings, costs and a link for the owner out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from survey.errors import SurveyError
    from survey.pipeline import Findings, analyze
    from survey.readings import Round, read_round
    from survey.site import Site

__version__ = "0.1.0"
__all__ = ["Findings", "Round", "Site", "SurveyError", "analyze", "read_round"]

_HOMES = {
    "Findings": "survey.pipeline",
    "Round": "survey.readings",
    "Site": "survey.site",
    "SurveyError": "survey.errors",
    "analyze": "survey.pipeline",
    "read_round": "survey.readings",
}


def __getattr__(name: str) -> Any:
    # Loaded on first use, so that `survey --help` does not pay for pandas.
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'survey' has no attribute {name!r}")
