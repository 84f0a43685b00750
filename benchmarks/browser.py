"""How long a person at a browser waits for the screens, as Markdown.

    PYTHONPATH=. python benchmarks/browser.py [--rows 10000 100000] [--times 8]

For the first page, beside an empty page of Streamlit's, until its heading stands; and for the list
of a large round, from the Enter that ends a filter until the last change of the table's picture.
The table's copy for screen readers comes later by a delay of its own. Needs Playwright and
Chromium.
"""

from __future__ import annotations

import argparse
import contextlib
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import speed
import uploads

PARTS = ("T-01", "T-02", "V-0", "T-03", "", "T-05")
SETTLED_MS = 2_500
# Pictures are compared at every frame; making them takes some of the time that is measured.
WATCH = """() => {
    let since = 0, seen = null;
    window.painted = 0;
    const picture = () => document.querySelector('canvas[data-testid=data-grid-canvas]')
        ?.toDataURL() ?? '';
    addEventListener('keydown', (event) => {
        if (event.key === 'Enter') { since = performance.now(); seen = picture(); painted = 0; }
    }, true);
    const look = () => {
        const now = picture();
        if (since && now !== seen) { painted = performance.now() - since; seen = now; }
        requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
}"""


def main() -> None:
    """Open the screens, judge large rounds there, filter them again and again, print the times."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="+", default=[10_000, 100_000])
    parser.add_argument("--times", type=int, default=8)
    options = parser.parse_args()
    if lacking := uploads.missing():
        raise SystemExit(lacking)
    ready, empty = (statistics.median(each) for each in ready_s(options.times))
    print(f"First page {ready:.2f} s, an empty one {empty:.2f} s: {ready / empty:.2f} times.\n")
    print("| devices | painted after, s: middle (least to most) |\n|---|---|")
    for rows in options.rows:
        taken = [each / 1000.0 for each in painted_ms(rows, options.times)]
        spread = f"{min(taken):.2f} to {max(taken):.2f}"
        print(f"| {rows:,} | {statistics.median(taken):.2f} ({spread}) |")


def ready_s(times: int) -> tuple[list[float], list[float]]:
    """Return how long the first page and an empty one took to stand, in turn, s."""
    from playwright.sync_api import sync_playwright

    taken: tuple[list[float], list[float]] = ([], [])
    with (
        tempfile.TemporaryDirectory() as name,
        uploads.dashboard(Path(name) / "home") as (screens, _),
        _empty(Path(name) / "empty.py") as empty,
        sync_playwright() as playwright,
        uploads.chromium(playwright) as browser,
    ):
        for turn in range(times + 1):
            for address, each in zip((screens, empty), taken, strict=True):
                with browser.new_context() as context:
                    page = context.new_page()
                    started = time.perf_counter()
                    page.goto(address, wait_until="commit")
                    page.get_by_role("heading", level=1).first.wait_for()
                    if turn:  # the first warms both servers up
                        each.append(time.perf_counter() - started)
                    page.wait_for_timeout(500)
    return taken


@contextlib.contextmanager
def _empty(script: Path) -> Iterator[str]:
    script.write_text("import streamlit\n\nstreamlit.title('Empty')\n", encoding="utf-8")
    port, _ = uploads.free_ports()
    command = ("streamlit", "run", str(script), "--server.port", str(port),
               "--server.headless", "true", "--browser.gatherUsageStats", "false")  # fmt: skip
    with uploads.serving(*command, ports=(port,), environment={}):
        yield f"http://127.0.0.1:{port}/"


def painted_ms(rows: int, times: int) -> list[float]:
    """Return how long each filter took to be painted, ms."""
    from playwright.sync_api import sync_playwright

    with (
        tempfile.TemporaryDirectory() as name,
        uploads.dashboard(Path(name) / "home") as (screens, _),
        sync_playwright() as playwright,
    ):
        given = speed.made(Path(name) / "given.parquet", rows)
        with uploads.chromium(playwright) as browser:
            page = browser.new_page(viewport={"width": 1280, "height": 844})
            page.set_default_timeout(120_000)
            uploads.judged(page, screens, given)
            page.locator(".st-key-menu a").filter(has_text="Ranking").click()
            page.get_by_text("Filter by place, device, state, cause or type").click()
            page.locator("canvas[data-testid=data-grid-canvas]").first.wait_for()
            page.wait_for_timeout(SETTLED_MS)
            page.evaluate(WATCH)
            return [_filtered(page, PARTS[turn % len(PARTS)]) for turn in range(times)]


def _filtered(page: Any, part: str) -> float:
    page.get_by_label("Tag has in it").fill(part)
    page.keyboard.press("Enter")
    page.wait_for_timeout(SETTLED_MS)
    taken: float = page.evaluate("() => window.painted")
    if not taken:
        raise SystemExit(f"nothing was painted after {part!r}")
    return taken


if __name__ == "__main__":
    main()
