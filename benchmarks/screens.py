"""How fast the screens open and filter a large round: processor time of one server, as Markdown.

    PYTHONPATH=. python benchmarks/screens.py [--rows 10000 100000] [--runs 3]

Every step is a whole run of the page's script, as Streamlit runs it, in a session of its own for
each turn. What a browser takes to draw it comes on top. Wall clock stands beside, for what else the
machine does.
"""

from __future__ import annotations

import argparse
import logging
import os
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from speed import make_round
from streamlit.testing.v1 import AppTest

import survey.dashboard
from survey import Findings, analyze
from survey.dashboard.state import Work

SCREENS = Path(survey.dashboard.__file__).with_name("screens.py")
TIMEOUT_S = 120

Took = dict[str, tuple[float, float]]


def main() -> None:
    """Make the rounds, walk through the screens, print the table."""
    options = _options()
    logging.disable(logging.WARNING)
    took: dict[int, list[Took]] = {}
    with tempfile.TemporaryDirectory() as name:
        os.environ["SURVEY_HOME"] = name
        for rows in options.rows:
            findings = analyze(make_round(Path(name) / "round.parquet", rows))
            took[rows] = [dict(_walk(findings)) for _ in range(options.runs)]
    print(_markdown(took))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="+", default=[10_000, 100_000])
    parser.add_argument("--runs", type=int, default=3)
    return parser.parse_args()


def _walk(findings: Findings) -> Iterator[tuple[str, tuple[float, float]]]:
    """Go through the screens with a round just judged; yield what each step took."""
    app = AppTest.from_file(str(SCREENS), default_timeout=TIMEOUT_S)
    app.session_state["work"] = Work(findings=findings)
    yield "first page", _timed(app.run)
    yield "Overview, first time", _timed(lambda: app.switch_page("overview.py").run())
    yield "Ranking, first time", _timed(lambda: app.switch_page("ranking.py").run())
    yield "Ranking, again", _timed(app.run)
    areas = app.multiselect(key="kept_filter_area")
    yield "filter by area, first time", _timed(lambda: areas.set_value(areas.options[:1]).run())
    part = app.text_input(key="kept_tag_part")
    yield "and by a part of the tag", _timed(lambda: part.set_value("t-01").run())
    part.set_value("")
    yield "filters off", _timed(lambda: app.multiselect(key="kept_filter_area").set_value([]).run())
    everything = app.toggle(key="kept_only_to_do").set_value(False)
    yield "what is in order too", _timed(everything.run)
    yield "Charts", _timed(lambda: app.switch_page("readings.py").run())
    yield "Unit", _timed(lambda: app.switch_page("unit.py").run())
    again = app.button(key="try_others").click()
    yield "Try other readings, first unit", _timed(again.run)
    other = app.selectbox(key="kept_unit")
    other.set_value(other.options[1]).run()
    again = app.button(key="try_others").click()
    yield "Try other readings, next unit", _timed(again.run)


def _timed(step: Callable[[], AppTest]) -> tuple[float, float]:
    """Return processor and wall-clock seconds of a step, which must not fail."""
    processor, wall = time.process_time(), time.perf_counter()
    app = step()
    took = time.process_time() - processor, time.perf_counter() - wall
    assert not app.exception, app.exception[0].message
    return took


def _markdown(took: dict[int, list[Took]]) -> str:
    heads = [f"{rows:,} units, {what}" for rows in took for what in ("processor", "wall clock")]
    lines = ["| step, seconds | " + " | ".join(heads) + " |", "|---" * (len(heads) + 1) + "|"]
    for name in next(iter(took.values()))[0]:
        cells = [
            f"{statistics.median(run[name][kind] for run in runs):.2f}"
            for runs in took.values()
            for kind in (0, 1)
        ]
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
