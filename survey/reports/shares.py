"""Pictures of where the loss is and what is behind it: the dearest devices, and causes by station.

Each is a `pictures.Picture`, or None where the round has nothing to draw.
"""

from __future__ import annotations

import pandas as pd

from survey.findings import Findings
from survey.reports import charts, lanes, measures, tables, words
from survey.reports.page_words import COLUMN_HEADS, PICTURES
from survey.reports.pictures import Picture
from survey.reports.units import LEAST_COST, LEAST_LOSS_LB_PER_H, loss_figures, loss_words

DEAREST = 10
STATIONS = 8
CAUSES_PER_STATION = 6
TAGS_DRAWN = 3
TAGS_LISTED = 12


def cost_pareto(findings: Findings, *, show_money: bool = True) -> Picture | None:
    """Return the dearest devices with their ranges, and what they carry of the whole."""
    by = "annual_cost" if show_money else measures.FLOW
    total = tables.totals(findings)
    curve = tables.cumulative(findings, by)
    least = LEAST_COST if show_money else LEAST_LOSS_LB_PER_H  # a bar of nothing shows nothing
    ranked = findings.table[findings.table["rank"].notna() & (findings.table[by] >= least)]
    if len(ranked) < 3:
        return None
    first = ranked.sort_values([by, "rank"], ascending=[False, True]).head(DEAREST)
    bars, rows = [], []
    records = [{str(k): v for k, v in row.items()} for row in first.to_dict("records")]
    for row, share in zip(records, curve["share"].head(len(first)), strict=True):
        value, low, high = loss_figures(row, show_money)
        said = loss_words(row, total.currency, show_money)
        place = (words.tidy(row.get("tag"), 40), words.tidy(row.get("equipment"), 24))
        name = ", ".join(filter(None, place))
        bars.append(charts.Bar(name, value, low, high, said))
        middle, down, up = (measures.value(by, figure) for figure in (value, low, high))
        figure = words.coins if show_money else words.figure
        ends = words.span(middle, down, up, figure).strip("()")
        rows.append((name, figure(middle), ends, words.percent(share)))
    reached = words.percent(float(curve["share"].iloc[len(first) - 1]))
    said = PICTURES["pareto_said"].format(words.counted(len(first), "device"), reached)
    cost = COLUMN_HEADS["cost_in"].format(total.currency)
    loss = COLUMN_HEADS["loss_in"].format(measures.unit(measures.FLOW))
    heads = (COLUMN_HEADS["device"], cost if show_money else loss, COLUMN_HEADS["range"],
             COLUMN_HEADS["share_so_far"])
    chart = charts.bars("pareto", PICTURES["pareto"], said, bars)
    return Picture("pareto", PICTURES["pareto"], said, chart, heads, tuple(rows))


def cause_tree(findings: Findings) -> Picture | None:
    """Return what is behind the faults: each station, its causes, and the units of each."""
    table = findings.table[findings.table["rank"].notna()]
    if table.empty:
        return None
    frame = pd.DataFrame({n: tables.texts(table, n) for n in ("station", "tag")})
    frame["cause"] = tables.causes_of(table)
    frame["rank"] = table["rank"]
    counts = frame.groupby("station").size().sort_values(ascending=False, kind="stable")
    branches, rows = [], []
    for station in counts.index[:STATIONS]:
        mine = frame[frame["station"] == station]
        name = words.tidy(station, 40) or COLUMN_HEADS["no_station"]
        branches.append(lanes.Branch(0, name, len(mine), words.counted(len(mine), "device")))
        causes = mine.groupby("cause").size().sort_values(ascending=False, kind="stable")
        for cause in causes.index[:CAUSES_PER_STATION]:
            tags = mine[mine["cause"] == cause].sort_values("rank", kind="stable")["tag"]
            said = words.BEHIND_IT.get(str(cause), words.word(cause)) or words.CAUSES["unknown"]
            said = words.capital(said)
            branches += [lanes.Branch(1, said, len(tags), words.whole(len(tags))),
                         lanes.Branch(2, _tags(tags, TAGS_DRAWN), 0, "")]
            rows.append((name, said, words.whole(len(tags)), _tags(tags, TAGS_LISTED)))
    most = branches[0]
    said = PICTURES["tree_said"].format(
        words.counted(len(table), "device"), words.counted(len(counts), "station"), most.name,
        most.words,
    )
    heads = tuple(COLUMN_HEADS[n] for n in ("station", "cause", "count", "units"))
    chart = lanes.tree("tree", PICTURES["tree"], said, branches)
    return Picture("tree", PICTURES["tree"], said, chart, heads, tuple(rows),
                   max(0, len(counts) - STATIONS))


def _tags(tags: pd.Series[str], most: int) -> str:
    shown = [words.tidy(tag, 24) for tag in tags.head(most)]
    more = len(tags) - len(shown)
    return ", ".join(shown) + (f" and {words.whole(more)} more" if more else "")
