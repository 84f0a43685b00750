"""Tags that change: what is asked, what is never done unasked, what an answer does."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import RoundsError, UnreadableFile
from survey.rounds.answers import answer, answer_all, proposals
from survey.rounds.compare import compare_rounds
from survey.rounds.matching import Seen, moved, renamed, tidied
from survey.rounds.questions import question_of, read_answers, write_questions
from survey.rounds.store import Store
from survey.rounds.units import find_unit, units
from tests.rounds.build import findings, trap

LATER = {"read_at": "2026-01-20T08:00:00"}


@pytest.mark.parametrize("other", ["t-017", "T 17", "T17", "T_0017", "t.017 "])
def test_spelling_is_tidied_away(other: str) -> None:
    assert tidied(other) == tidied("T-017")


@pytest.mark.parametrize("other", ["T-170", "T-018", "TT-017", "T-017A", "T-0-17"])
def test_another_tag_stays_another(other: str) -> None:
    assert tidied(other) != tidied("T-017")


def seen(unit: int, tag: str, **given) -> Seen:
    return Seen(unit, tag, **{"equipment": f"UH-{unit % 100}", "area": "Hall", "bore_in": 0.125,
                              **given})  # fmt: skip


def test_a_tag_spelt_otherwise_is_proposed_first_with_its_reasons() -> None:
    found = renamed([seen(1, "T-017"), seen(2, "T-018")], [seen(101, "t 17")])
    assert [(one.earlier, one.later) for one in found] == [(1, 101)]
    assert found[0].reasons == (
        "the tag is the same but for case, spaces, signs or leading zeros",
        "same equipment, area, bore",
    )


def test_a_slip_of_the_pen_needs_the_same_place() -> None:
    slip = renamed([seen(1, "T-O17X")], [seen(3, "T-017X", equipment="")])
    assert [one.reasons[0] for one in slip] == ["the tags differ by one letter or figure"]
    elsewhere = seen(3, "T-017X", equipment="", area="Laundry")
    assert renamed([seen(1, "T-O17X")], [elsewhere]) == []
    other_type = seen(3, "T-017X", equipment="", trap_type="thermodynamic")
    assert renamed([seen(1, "T-O17X", trap_type="bimetallic")], [other_type]) == []


def test_a_new_name_is_asked_about_where_one_went_and_one_came() -> None:
    gone, come = [seen(1, "OLD-A", equipment="Drier 2")], [seen(2, "L.44", equipment="drier 2")]
    assert [one.reasons[0] for one in renamed(gone, come)] == [
        "the only trap of drier 2 that went, and the only one that came"
    ]
    assert renamed([*gone, seen(3, "OLD-B", equipment="Drier 2")], come) == []


def test_a_vent_is_never_taken_for_a_trap() -> None:
    assert renamed([seen(1, "X-1")], [seen(101, "x 1", device="air_vent")]) == []


def test_a_unit_moves_when_all_of_its_known_places_change() -> None:
    here = seen(1, "T-1", equipment="UH-1", area="Hall")
    assert moved(here, seen(1, "T-1", equipment="uh 1", area="Laundry"), 2) is None
    assert moved(here, seen(1, "T-1", equipment="", area=""), 2) is None
    asked = moved(here, seen(1, "T-1", equipment="Drier", area="Laundry"), 2)
    assert asked is not None
    assert asked.reasons == (
        "its equipment was UH-1 and is now Drier", "its area was Hall and is now Laundry"
    )  # fmt: skip


_SEEN = st.builds(
    seen, st.integers(1, 10_000), st.text("T01-x", min_size=1, max_size=5),
    equipment=st.sampled_from(["", "UH-1", "UH-2"]), area=st.sampled_from(["", "Hall"]),
)  # fmt: skip
_LISTS = st.lists(_SEEN, max_size=7, unique_by=lambda one: one.unit)


@given(_LISTS, _LISTS, st.randoms(use_true_random=False))
def test_each_unit_is_asked_about_once_in_whatever_order(gone, come, random) -> None:
    found = renamed(gone, come)
    assert len({one.earlier for one in found}) == len({one.later for one in found}) == len(found)
    assert renamed(random.sample(gone, len(gone)), random.sample(come, len(come))) == found
    refused = {(one.earlier, one.later) for one in found}
    again = renamed(gone, come, refused=refused)
    assert not refused & {(one.earlier, one.later) for one in again}


def two_rounds(store: Store) -> None:
    store.add(findings(trap("T-017", equipment="UH-17"), trap("T-018", equipment="UH-18")))
    store.add(findings(trap("t 17", equipment="UH-17", **LATER),
                       trap("T-018", equipment="UH-99", area="Laundry", **LATER)))  # fmt: skip


def test_nothing_is_joined_unasked(store: Store) -> None:
    two_rounds(store)
    assert [question_of(one)[:2] for one in proposals(store)] == [
        ("1=3", "Is t 17 the unit that was T-017?"),
        ("2@2", "Has T-018 moved? (no: it is another unit that bears its tag)"),
    ]
    assert [one.tags for one in units(store)] == [("T-017",), ("T-018",), ("t 17",)]


def test_yes_joins_and_history_and_comparison_follow_the_unit(store: Store) -> None:
    two_rounds(store)
    answer(store, 1, 3, accepted=True)
    assert find_unit(store, "T-017") == find_unit(store, "t 17")
    assert find_unit(store, "t 17").tags == ("T-017", "t 17")
    compared = compare_rounds(store, store.round(1), store.round(2))
    assert compared.counts["still_working"] == 2
    assert {(u.tag_before, u.tag) for u in compared.units} == {("T-017", "t 17"),
                                                               ("T-018", "T-018")}  # fmt: skip
    store.add(findings(trap("T-017", read_at="2026-05-01"), trap("t 17", read_at="2026-05-01")))
    tags = store.tags(3)
    assert tags["t 17"] == 1, "of two tags of one unit, the one used last is the unit"
    assert tags["T-017"] not in (1, 2, 3)


def test_no_is_remembered_and_a_yes_can_be_taken_back(store: Store) -> None:
    two_rounds(store)
    answer(store, 1, 3, accepted=False)
    assert [one.kind for one in proposals(store)] == ["moved"]
    answer(store, 1, 3, accepted=True)
    assert find_unit(store, "t 17").number == 1
    answer(store, 1, 3, accepted=False)
    assert find_unit(store, "t 17").number == 3


def test_no_to_a_move_makes_it_another_unit_from_then_on(store: Store) -> None:
    two_rounds(store)
    answer(store, 2, 2, accepted=False, moved_in=2)
    assert [one.rounds for one in units(store) if "T-018" in one.tags] == [(1,), (2,)]
    assert [one.kind for one in proposals(store)] == ["renamed"], "the two are not asked about anew"
    store.add(findings(trap("T-018", equipment="UH-99", area="Laundry", read_at="2026-05-01")))
    assert store.tags(3)["T-018"] == 4


def test_yes_to_a_move_leaves_it_one_unit(store: Store) -> None:
    two_rounds(store)
    answer(store, 2, 2, accepted=True, moved_in=2)
    assert find_unit(store, "T-018").rounds == (1, 2)
    assert [one.kind for one in proposals(store)] == ["renamed"]


def test_units_read_in_one_round_cannot_be_one_and_nothing_is_done_by_halves(store: Store) -> None:
    two_rounds(store)
    with pytest.raises(RoundsError, match="units 1 and 2, both read in round 1"):
        answer_all(store, {(1, 3, 0): True, (1, 2, 0): True})
    assert len(units(store)) == 3
    with pytest.raises(RoundsError, match=r"number of a unit.*Found: 77"):
        answer(store, 1, 77, accepted=True)


def test_the_csv_goes_out_and_comes_back(store: Store, tmp_path: Path) -> None:
    two_rounds(store)
    path = tmp_path / "questions.csv"
    write_questions(proposals(store), path)
    assert read_answers(path) == {}
    lines = path.read_text().splitlines()
    path.write_text("\ufeff" + "\n".join([lines[0], lines[1] + "Yes", lines[2] + "no"]))
    assert read_answers(path) == {(1, 3, 0): True, (2, 2, 2): False}
    path.write_text("question;answer;other\n1=3;NO;x\n")
    assert read_answers(path) == {(1, 3, 0): False}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("question,answer\n1=3,perhaps\n", "'perhaps' to '1=3' on line 2"),
        ("question,answer\n1-3,yes\n", "'yes' to '1-3' on line 2"),
        ("a,b\n1,2\n", "no columns"),
        ("", "no columns"),
    ],
)
def test_answers_that_cannot_be_meant_are_told(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "answers.csv"
    path.write_text(text)
    with pytest.raises(UnreadableFile, match=words):
        read_answers(path)
