"""What the owner's paper says, as JSON types: words and pictures for `paper.typ` to set."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from survey.findings import Findings
from survey.reports import (
    charts,
    losses_shown,
    manner,
    palette,
    sections,
    sentences,
    tables,
    words,
    work,
)
from survey.reports.page import style
from survey.reports.page_words import COLUMN_HEADS, LIMITS
from survey.reports.page_words import SAY as PAGE_SAY
from survey.reports.paper_words import METHOD, SAY
from survey.reports.pictures import Picture
from survey.reports.units import loss_span, loss_words

LIST_LINES = 1600
TAGS_NAMED = 3000
FRONT_BARS = 6
HOLDS_NAMED = 12
_PICTURE_FONT = 'text{font-family:"Libertinus Serif"}.curve{stroke-width:.7}'


def content(findings: Findings, *, show_money: bool) -> dict[str, Any]:
    """Return everything that the paper shows; figures are those of the owner's page."""
    said = sections.context(findings, show_money=show_money)
    total, site = said["total"], said["site"] or SAY["survey"]
    made = SAY["made"].format(said["made"], said["version"]) if said["made"] else ""
    return {
        "title": SAY["title"].format(site) if said["site"] else SAY["survey"],
        "site": site,
        "eyebrow": f"{SAY['survey']} · {said['when']}" if said["when"] else SAY["survey"],
        "headline": said["headline"],
        "large": said["large"],
        "description": f"{said['large']} {said['headline']}".strip(),
        "made": _date(findings),
        "foot": SAY["foot"].format(site=site, made=made).strip(),
        "sheet": sheet(),
        "say": SAY | {"range_note": PAGE_SAY["range_note"]},
        "facts": _facts(said["facts"], show_money),
        "states": _states(said, total),
        "front": [_front(one) for one in losses_shown.splits(
            findings, total, show_money=show_money, most=FRONT_BARS)[:1]],
        **_list(findings, total, show_money),
        **_rest(findings),
        "pictures": [_picture(one) for one in _pictures(said)],
        "cautions": list(words.CAUTION_POINTS),
        "basis": _basis(said),
        "aside": _aside(said),
    }


def sheet() -> str:
    """Return what kind of paper goes with the units that figures are shown in."""
    return "us-letter" if manner.current().units == "us" else "a4"


def _date(findings: Findings) -> dict[str, int] | None:
    made = sentences.moment_made(findings)
    return {"year": made.year, "month": made.month, "day": made.day} if made else None


def _facts(facts: dict[str, str], show_money: bool) -> list[list[str]]:
    names = ("cost", "loss", "co2", "to_do") if show_money else ("loss", "co2", "to_do")
    return [[PAGE_SAY[f"fact_{name}"], facts[name]] for name in names]


def _list(findings: Findings, total: tables.Totals, show_money: bool) -> dict[str, Any]:
    jobs = work.jobs(findings)
    levels: dict[str, list[dict[str, str]]] = {}
    priced = _priced_head(show_money)
    for job in jobs[:LIST_LINES]:
        levels.setdefault(job.title, []).append(_row(job, total.currency, show_money))
    return {
        "levels": [_level(title, rows, priced) for title, rows in levels.items()],
        "left_out": _left_out(jobs[LIST_LINES:], total.currency, show_money),
    }


def _priced_head(show_money: bool) -> str:
    return COLUMN_HEADS["cost"] if show_money else COLUMN_HEADS["loss_in"].partition(",")[0]


def _level(title: str, rows: list[dict[str, str]], priced_head: str) -> dict[str, Any]:
    priced = any(row["cost"] for row in rows)
    heads = [SAY["device"], SAY["what"], priced_head][: 3 if priced else 2]
    return {"title": title, "heads": heads, "rows": rows, "priced": priced}


def _states(said: dict[str, Any], total: tables.Totals) -> dict[str, Any]:
    return {
        "sentence": said["states_sentence"],
        "svg": _svg(said["states_chart"]),
        "key": [
            {"group": group, "count": words.whole(count), "words": words.GROUPS[group].lower()}
            for group, count in total.groups.items() if count
        ],
    }


def _row(job: work.Job, currency: str, show_money: bool) -> dict[str, str]:
    more = len(job.explains) - HOLDS_NAMED
    names = list(job.explains[:HOLDS_NAMED]) + ([f"{words.whole(more)} more"] if more > 0 else [])
    return {
        "tag": job.tag or job.place, "place": job.place if job.tag else "",
        "state": job.state, "what": job.what, "why": job.why,
        "explains": SAY["explains"].format(words.listed(names)) if names else "",
        "cost": loss_words(job.sums, currency, show_money),
        "span": loss_span(job.sums, show_money),
    }


def _left_out(jobs: list[work.Job], currency: str, show_money: bool) -> str:
    if not jobs:
        return ""
    sums = {name: sum(job.sums[name] for job in jobs) for name in tables.SUMMED}
    said = loss_words(sums, currency, show_money) or PAGE_SAY["next_to_nothing"]
    return SAY["left_out"].format(words.whole(len(jobs)), f"{said} {SAY['a_year']}"
                                  if show_money else said)


def _rest(findings: Findings) -> dict[str, Any]:
    """Name the devices at which nothing is to be done, by area and state."""
    table = findings.table[findings.table["rank"].isna()]
    named = table.sort_values("tag", kind="stable").head(TAGS_NAMED)
    frame = pd.DataFrame({n: tables.texts(named, n) for n in ("area", "state", "device", "tag")})
    rows = []
    for (area, state, device), mine in frame.groupby(["area", "state", "device"], sort=True):
        tags = [words.tidy(tag, 24) for tag in mine["tag"]]
        state_said = f"{words.capital(words.counted(len(tags), words.word(device)))} " \
            f"{words.state_words(words.tidy(state), words.tidy(device))}"
        rows.append([words.tidy(area, 40), state_said, ", ".join(tags)])
    left = len(table) - len(named)
    return {
        "rest": rows,
        "rest_heads": [SAY["area"], SAY["state"], SAY["tags"]],
        "rest_left_out": SAY["rest_left_out"].format(words.whole(left)) if left else "",
    }


def _pictures(said: dict[str, Any]) -> Iterable[Picture]:
    if said["curve"]:
        heads = tuple(COLUMN_HEADS[name] for name in ("repaired", "last", "share"))
        rows = tuple((words.whole(r["repaired"]), r["last"], r["share"])
                     for r in said["curve_rows"])
        yield Picture("running", said["curve_title"], said["curve_sentence"], said["curve"],
                      heads, rows)
    yield from (one for one in (said["pareto"], said["tree"], *said["pictures"]) if one)


def _front(one: losses_shown.Split) -> dict[str, Any]:
    left = len(one.rows) + one.more - FRONT_BARS
    return {
        "title": one.title, "sentence": one.sentence, "svg": _svg(one.chart),
        "more": SAY["front_more"].format(words.whole(left)) if left > 0 else "",
    }


def _picture(one: Picture) -> dict[str, Any]:
    return {
        "title": one.title, "sentence": one.sentence, "svg": _svg(one.chart),
        "heads": list(one.heads), "rows": [list(row) for row in one.rows],
        "more": PAGE_SAY["and_more"].format(words.whole(one.more)) if one.more else "",
    }


def _svg(chart: Any) -> str:
    return charts.standalone(chart, _picture_style())


def _picture_style() -> str:
    css = style()
    css = css[css.index(".chart{"):css.index(".swatch{")]
    return palette.fixed(css.replace("var(--sheet)", "#ffffff")) + _PICTURE_FONT


def _basis(said: dict[str, Any]) -> list[dict[str, Any]]:
    parts: tuple[tuple[str, list[str], list[str]], ...] = (
        (SAY["method"], [*METHOD, said["basis"]], []),
        (SAY["found"], [], said["calibration"]),
        (SAY["assumed"], [] if said["assumptions"] else [PAGE_SAY["no_assumptions"]],
         said["assumptions"]),
        (SAY["noticed"], [], said["notes"]),
        (SAY["limits"], [], list(LIMITS)),
        (SAY["aside"], [said["aside_sentence"]], []),
    )
    return [
        {"title": title, "text": [line for line in text if line], "lines": lines}
        for title, text, lines in parts if text or lines
    ]


def _aside(said: dict[str, Any]) -> dict[str, Any]:
    more = said["aside_more"]
    return {
        "heads": [COLUMN_HEADS[name] for name in ("row", "column", "value", "reason")],
        "rows": said["aside_rows"],
        "more": SAY["aside_more"].format(words.whole(more)) if said["aside_rows"] and more else "",
    }
