"""No property is judged by a clock: a machine shared by many is slow now and then.

Under continuous integration (the variable CI) the examples are the same at every run, so that a
change is judged by what it changed; everywhere else each run draws new ones.

A bare ``pytest`` is for a laptop: it leaves out what takes long or needs another program, and says
so. With SURVEY_EVERY_TEST=1, with ``-m`` or of files that are named, every test is run.
"""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from tests.chromium import browser
from tests.spools import small_blocks, spill

__all__ = ["browser", "small_blocks", "spill"]  # the fixtures

settings.register_profile("everyone", deadline=None)
settings.register_profile("same_every_time", deadline=None, derandomize=True)
settings.load_profile("same_every_time" if os.environ.get("CI") else "everyone")

QUICK = "not (thorough or browser or nginx or postgresql)"


def pytest_configure(config: pytest.Config) -> None:
    bare = config.args_source is pytest.Config.ArgsSource.TESTPATHS and not config.option.markexpr
    if bare and os.environ.get("SURVEY_EVERY_TEST") != "1":
        config.option.markexpr = QUICK  # workers are given the options


def pytest_report_header(config: pytest.Config) -> str:
    if config.option.markexpr == QUICK:
        return f"tests: {QUICK}; every one with SURVEY_EVERY_TEST=1"
    return "tests: every one that is asked for"
