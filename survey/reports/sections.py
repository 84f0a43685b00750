"""The sections of the owner's page: what each one is given to show."""

from __future__ import annotations

from typing import Any

from survey.columns import DEVICES
from survey.findings import Findings
from survey.readings.gather import rejected_cells
from survey.reports import (
    charts,
    losses_shown,
    measures,
    page_words,
    pictures,
    sentences,
    shares,
    tables,
    words,
)
from survey.reports.spoken import spoken
from survey.reports.tables import Totals
from survey.reports.units import Unit, units

STATE_ROWS = 40
KINDS_OF_FAULT = 8
DEVICES_ALIKE = 20
LINES = 25
LONGEST_LINE = 300
ASIDE_ROWS = 30
FILTER_AREAS = 60


def context(findings: Findings, *, show_money: bool) -> dict[str, Any]:
    """Return everything that the page's template needs of the findings."""
    total = tables.totals(findings)
    return {
        "total": total,
        "show_money": show_money,
        "site": words.tidy(findings.summary.get("site_name"), 80),
        "when": sentences.when_read(findings),
        "only_areas": _only_areas(findings),
        "made": sentences.when_made(findings),
        "version": words.tidy(findings.summary.get("version"), 20),
        "large": sentences.headline_figure(total, show_money=show_money),
        "headline": sentences.headline(total, show_money=show_money),
        "facts": _facts(total),
        **_states(findings, total),
        "tasks": losses_shown.tasks(findings, total, show_money=show_money),
        "undecided_words": losses_shown.undecided_sentence(findings, total, show_money=show_money),
        "splits": losses_shown.splits(findings, total, show_money=show_money),
        "causes": losses_shown.causes(findings, show_money=show_money),
        **losses_shown.running(findings, show_money=show_money),
        "worst": losses_shown.worst(findings, total, show_money=show_money),
        "others": _others(findings, total, show_money),
        "others_read": bool((tables.texts(findings.table, "device") != "trap").any()),
        "pareto": shares.cost_pareto(findings, show_money=show_money),
        "tree": shares.cause_tree(findings),
        "pictures": _pictures(findings),
        **_aside(findings, total),
        **basis(findings, total, show_money),
        **_filters(findings),
    }


def _only_areas(findings: Findings) -> str:
    shown = [words.tidy(area, 40) for area in findings.summary.get("areas_shown", [])]
    return page_words.SAY["only_areas"].format(words.listed(shown)) if shown else ""


def _pictures(findings: Findings) -> list[pictures.Picture]:
    drawn = (
        pictures.temperatures_against_saturation(findings),
        pictures.sound_against_background(findings),
        pictures.calibration_found(findings),
    )
    return [one for one in drawn if one]


def _facts(total: Totals) -> dict[str, str]:
    loss = (
        total.steam_loss_lb_per_h, total.steam_loss_low_lb_per_h, total.steam_loss_high_lb_per_h
    )
    cost = (total.annual_cost, total.annual_cost_low, total.annual_cost_high)
    return {
        "cost": words.money(cost[0], total.currency, *cost[1:]),
        "loss": measures.flow(loss),
        "co2": f"{words.figure(total.annual_co2_t)} t",
        "to_do": f"{words.whole(total.to_do)} of {words.whole(total.judged)}",
    }


def _states(findings: Findings, total: Totals) -> dict[str, Any]:
    counts = tables.state_counts(findings)
    order = {device: at for at, device in enumerate(DEVICES)}
    counts = counts.sort_values("device", key=lambda d: d.map(order).fillna(9), kind="stable")
    sentence = sentences.states_sentence(total)
    return {
        "states_sentence": sentence,
        "states_chart": charts.shares("states", "Devices by state", sentence, total.groups),
        "states_legend": [
            {"words": words.GROUPS[group], "count": count,
             "swatch": charts.swatch(f"key-{group}", group)}
            for group, count in total.groups.items() if count
        ],
        "states_rows": [
            {"device": words.word(row.device), "count": row.count_,
             "state": words.state_words(words.tidy(row.state), words.tidy(row.device)),
             "meaning": words.STATE_MEANINGS.get(str(row.state), "")}
            for row in counts.rename(columns={"count": "count_"}).head(STATE_ROWS).itertuples()
        ],
    }


def _others(findings: Findings, total: Totals, show_money: bool) -> list[dict[str, Any]]:
    ranked = tables.worst_first(findings.table[findings.table["rank"].notna()])
    kinds = tables.texts(ranked, "device")
    found = []
    for device in DEVICES[1:]:
        rows = ranked[kinds == device]
        if len(rows):
            shown = units(rows, currency=total.currency, show_money=show_money)
            found.append({
                "name": words.word(device), "job": words.DEVICE_JOBS[device], "count": len(rows),
                **_alike(list(shown)),
            })
    return found


def _alike(shown: list[Unit]) -> dict[str, Any]:
    """Put devices together that are in the same state and want the same thing done."""
    together: dict[tuple[str, str], list[Unit]] = {}
    for one in shown:
        together.setdefault((one.state, one.action), []).append(one)
    alike: list[dict[str, Any]] = [
        {"state": state, "action": action, "group": ones[0].group, "count": len(ones),
         "units": ones[:DEVICES_ALIKE], "more": max(0, len(ones) - DEVICES_ALIKE)}
        for (state, action), ones in together.items()
    ]
    alike.sort(key=lambda one: -len(together[one["state"], one["action"]]))
    return {"alike": alike[:KINDS_OF_FAULT],
            "more": sum(one["count"] for one in alike[KINDS_OF_FAULT:])}


def _aside(findings: Findings, total: Totals) -> dict[str, Any]:
    rejects = findings.rejects.head(ASIDE_ROWS)
    columns = [tables.texts(rejects, name) for name in ("row", "column", "value", "reason")]
    tags = rejected_cells(rejects, findings.summary.get("headers", []), "tag")
    rows = [[words.tidy(cell, 160) for cell in cells] for cells in zip(*columns, strict=True)]
    for row, tag in zip(rows, tags, strict=True):  # a row number alone says nothing to an owner
        told = not tag or words.tidy(tag, 160) == row[2]  # it may itself be the value at fault
        row[0] += "" if told else f" ({words.tidy(tag, 40)})"
    return {
        "aside_sentence": sentences.set_aside_sentence(total),
        "aside_rows": rows,
        "aside_more": max(0, total.set_aside - len(rows)),
    }


def basis(
    findings: Findings, total: Totals, show_money: bool, most: int | None = LINES
) -> dict[str, Any]:
    """Return what the figures rest on; lists past ``most`` lines are cut, and say so."""
    summary = findings.summary
    assumed = [
        spoken(words.tidy(line, LONGEST_LINE)) for line in summary.get("assumptions", [])
    ]
    if not show_money:
        assumed = [line for line in assumed if not _speaks_of_money(line, total.currency)]
    learned = [
        spoken(words.tidy(entry.get("words"), LONGEST_LINE), [words.tidy(entry.get("group"), 200)])
        for entry in summary.get("calibration", [])
    ]
    return {
        "basis": spoken(words.tidy(summary.get("loss_basis"), LONGEST_LINE)),
        "assumptions": _cut(assumed, most),
        "calibration": _cut([line for line in learned if line], most),
        "notes": _cut([words.tidy(line, LONGEST_LINE) for line in summary.get("notes", [])], most),
    }


def _speaks_of_money(line: str, currency: str) -> bool:
    low = line.lower()
    spoken = ("price", "cost", "money", "per mmbtu", "per klb")
    return any(word in low for word in spoken) or bool(currency and currency.lower() in low)


def _cut(lines: list[str], most: int | None) -> list[str]:
    more = len(lines) - len(lines[:most])
    if more <= 0:
        return lines
    return [*lines[:most], f"And {words.whole(more)} more, in the findings file."]


def _filters(findings: Findings) -> dict[str, Any]:
    names = [words.tidy(name, 40) for name in tables.texts(findings.table, "area").unique()]
    areas = sorted({name for name in names if name})[:FILTER_AREAS]
    present = tables.texts(findings.table, "device").unique()
    return {
        "area_numbers": {name: at for at, name in enumerate(areas)},
        "filter_devices": {d: words.capital(words.word(d)) for d in DEVICES if d in present},
        "filter_groups": words.GROUPS,
    }
