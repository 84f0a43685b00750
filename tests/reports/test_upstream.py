"""What explains a trap is listed before it; all else stays in the order of cost."""

from __future__ import annotations

import re
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from reports.build import findings
from survey.reports.page import render_page
from survey.reports.tables import worst_first
from survey.reports.upstream import upstream_first

PLACES = st.sampled_from([("Hall", "UH-1"), ("Hall", "UH-2"), ("Shed", "UH-1"), ("Hall", "")])


def row(tag: str, device: str, state: str, cause: str, place: tuple[str, str],
        rank: float) -> dict[str, Any]:  # fmt: skip
    return {"tag": tag, "device": device, "state": state, "cause": cause, "area": place[0],
            "equipment": place[1], "rank": rank, "annual_cost": 1000.0 - rank}  # fmt: skip


ROUND = [
    row("T-9", "trap", "failed_open", "trap", ("Hall", "UH-9"), 1.0),
    row("T-1", "trap", "cold", "air_vent", ("Hall", "UH-1"), 2.0),
    row("T-2", "trap", "backed_up", "check_valve", ("Hall", "UH-2"), 3.0),
    row("T-3", "trap", "cold", "air_vent", ("Hall", "UH-3"), 4.0),
    row("V-2", "air_vent", "isolated", "valved_off", ("Hall", "UH-2"), 5.0),
    row("V-3", "air_vent", "undecided", "unknown", ("Hall", "UH-3"), 6.0),
    row("C-2", "check_valve", "stuck", "check_valve", ("Hall", "UH-2"), 7.0),
    row("V-1", "air_vent", "isolated", "valved_off", ("Hall", "UH-1"), 8.0),
    row("X-1", "air_vent", "isolated", "valved_off", ("Shed", "UH-1"), 9.0),
]


def order(rows: list[dict[str, Any]]) -> list[str]:
    return upstream_first(worst_first(findings(rows).table))["tag"].tolist()


def test_a_vent_comes_right_before_the_first_trap_that_it_explains() -> None:
    # V-2 explains no trap of its heater, V-3 is undecided, X-1 is in another area: these stay.
    assert order(ROUND) == ["T-9", "V-1", "T-1", "C-2", "T-2", "T-3", "V-2", "V-3", "X-1"]


def test_the_owners_page_lists_them_so() -> None:
    page = render_page(findings(ROUND))
    listed = page.partition('id="units"')[2]
    assert re.findall(r"<li data-g.*?<b>(.*?)</b>", listed) == order(ROUND)


@given(st.lists(st.tuples(
    st.sampled_from(["trap", "air_vent", "check_valve", "vacuum_breaker"]),
    st.sampled_from(["working", "cold", "isolated", "undecided"]),
    st.sampled_from(["trap", "air_vent", "check_valve", "none"]), PLACES,
), max_size=12))  # fmt: skip
def test_no_row_is_lost_and_only_what_explains_is_moved(
    made: list[tuple[str, str, str, tuple[str, str]]],
) -> None:
    rows = [row(f"D-{at}", *one, float(at)) for at, one in enumerate(made)]
    before = [one["tag"] for one in rows]
    after = order(rows) if rows else []
    assert sorted(after) == sorted(before)
    by_tag = {one["tag"]: one for one in rows}
    moving = {"air_vent", "check_valve"}
    assert [t for t in after if by_tag[t]["device"] not in moving] == [
        t for t in before if by_tag[t]["device"] not in moving
    ]
    for at, tag in enumerate(after):
        one = by_tag[tag]
        if one["device"] not in moving or one["state"] in ("working", "undecided"):
            continue
        for earlier in after[:at]:
            other = by_tag[earlier]
            same = (other["area"], other["equipment"]) == (one["area"], one["equipment"])
            assert not (one["equipment"] and same and other["device"] == "trap"
                        and other["cause"] == one["device"])  # fmt: skip
