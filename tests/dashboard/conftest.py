from __future__ import annotations

from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

import survey.dashboard
from survey import Findings, Site, analyze
from survey.dashboard.state import Work
from survey.rounds.store import open_store
from tests.apps import packages_looked_through_once

__all__ = ["packages_looked_through_once"]  # the fixture

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_data"
SCREENS = Path(survey.dashboard.__file__).with_name("screens.py")
TIMEOUT_S = 60

Opened = Callable[..., AppTest]


@pytest.fixture(scope="session")
def site() -> Site:
    return Site.from_toml(SAMPLE / "nursery_site.toml")


@pytest.fixture(scope="session")
def findings(site: Site) -> Findings:
    return analyze(SAMPLE / "nursery_round.csv", site=site)


@pytest.fixture(scope="session")
def repaired(site: Site) -> Findings:
    return analyze(SAMPLE / "nursery_after_repair.csv", site=site)


@pytest.fixture
def two_kept(findings: Findings, repaired: Findings) -> None:
    with open_store() as store:
        store.add(findings, name="Autumn")
        store.add(repaired, name="After the repair")


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("SURVEY_BASE_URL", raising=False)
    return tmp_path


@pytest.fixture
def open_app() -> Opened:
    """Open the screens, on a page if one is named, with findings if they are given."""

    def opened(page: str = "", findings: Findings | None = None) -> AppTest:
        app = AppTest.from_file(str(SCREENS), default_timeout=TIMEOUT_S)
        if findings is not None:
            app.session_state["work"] = Work(findings=findings)
        app.run()
        return go(app, page) if page else app

    return opened


def go(app: AppTest, page: str) -> AppTest:
    return app.switch_page(page).run()


def unfold(app: AppTest, name: str) -> AppTest:
    """Open what is folded up on a page: site, figures."""
    app.session_state[f"kept_open_{name}"] = True
    return app.run()


def title(app: AppTest) -> str:
    return app.title[0].value


def table(app: AppTest, number: int = 0) -> pd.DataFrame:
    return app.dataframe[number].value


def texts(app: AppTest) -> str:
    return "\n".join(element.value for element in app.text)


def button(app: AppTest, label: str) -> AppTest:
    """Press the button with this label."""
    [found] = [each for each in app.button if each.label == label]
    return found.click().run()


class _Cells(HTMLParser):
    """Take the cells of a table, row by row, as they are read out."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag == "tr":
            self.rows.append([])
        elif tag in ("th", "td"):
            self.rows[-1].append("")

    def handle_data(self, data: str) -> None:
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data


def told(app: AppTest, head: str) -> pd.DataFrame:
    """Return the first table on the page that has a column with this head."""
    for element in app.get("html"):
        cells = _Cells()
        cells.feed(element.value)
        if cells.rows and head in cells.rows[0]:
            return pd.DataFrame(cells.rows[1:], columns=cells.rows[0])
    raise AssertionError(f"no table with {head!r}")


def cards(app: AppTest) -> str:
    return "\n".join(element.value for element in app.get("html") if "<article" in element.value)
