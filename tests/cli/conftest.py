"""Findings of the sample round, judged once for all tests here."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from survey.findings import Findings
from survey.pipeline import analyze
from survey.site import Site

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"


@pytest.fixture(scope="session")
def sample_findings() -> Findings:
    """Return the sample round as the library judges it."""
    site = Site.from_toml(SAMPLE / "nursery_site.toml")
    return analyze([SAMPLE / "nursery_round.csv"], site=site)


@pytest.fixture(scope="session")
def _saved(sample_findings: Findings, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("saved") / "findings.parquet"
    sample_findings.save(path)
    return path


@pytest.fixture
def findings_file(_saved: Path, tmp_path: Path) -> Path:
    """Return the judged sample round in a file of this test's own."""
    return Path(shutil.copy(_saved, tmp_path / "findings.parquet"))
