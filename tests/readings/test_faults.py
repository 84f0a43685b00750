from __future__ import annotations

import numpy as np
import pytest

from survey.columns import FINDING_NAMES, INPUT_COLUMNS, INPUT_NAMES
from survey.errors import UnreadableFile
from survey.readings import gather, read_round
from survey.readings.words import CHOICE_WORDS, slip_of
from tests.readings.build import read_text

NO_READING = "no reading: at least one temperature, pressure, sound or observation is needed"
BORE = "impossible: a bore is more than 0 and at most 2 in"


@pytest.mark.parametrize(
    ("column", "cell", "reason"),
    [
        ("inlet_temp_f", "-460", "impossible: below absolute zero"),
        ("outlet_temp_f", "-459.68", "impossible: below absolute zero"),
        ("inlet_temp_c", "-273.16", "impossible: below absolute zero"),
        ("inlet_temp_f", "1501", "impossible: over 1500 °F"),
        ("inlet_temp_f", "inf", "infinite, not a reading"),
        ("inlet_temp_f", "~180", "an estimate or a bound, not a reading"),
        ("inlet_temp_f", "hot", "not a number"),
        ("ambient_f", "-101", "impossible: under -100 °F"),
        ("supply_psig", "-14.7", "impossible: at or below a perfect vacuum at this altitude"),
        ("supply_psia", "0", "impossible: at or below a perfect vacuum at this altitude"),
        ("return_bar", "-1.02", "impossible: at or below a perfect vacuum at this altitude"),
        ("supply_psig", "3001", "impossible: over 3000 psig"),
        ("orifice_in", "0", BORE),
        ("orifice_in", "-0.125", BORE),
        ("orifice_in", "2.01", BORE),
        ("orifice_mm", "51", BORE),
        ("sound_db", "201", "impossible: over 200 dB"),
        ("hours_per_year", "8785", "impossible: over 8784 h"),
        ("hours_per_year", "-1", "impossible: under 0 h"),
        ("lift_ft", "1e4", "impossible: over 1000 ft"),
        ("device", "pump", "expected trap, air_vent, vacuum_breaker or check_valve"),
        ("thermometer", "glass", "expected contact or infrared"),
        ("sound_pattern", "hissing", "expected quiet, intermittent, continuous or modulating"),
        ("observed", "oil", "expected nothing, air, water or steam"),
        ("valve_position", "ajar", "expected open or closed"),
        ("valve_position", "closedd", "expected open or closed"),
        ("device", "chek valve", "expected trap, air_vent, vacuum_breaker or check_valve"),
        ("present", "perhaps", "expected yes or no"),
        ("area", "x" * 201, "longer than 200 characters"),
    ],
)
def test_a_faulty_cell_sets_its_row_aside(tmp_path, column, cell, reason):
    other = "outlet_temp_f" if column != "outlet_temp_f" else "inlet_temp_f"
    text = f"tag,{column},{other}\nT-1,{cell},200\nT-2,,200\n"
    read = read_text(tmp_path, text)
    assert read.table["tag"].tolist() == ["T-2"]
    (found,) = read.rejects.itertuples(index=False)
    shown = cell if len(cell) <= 200 else cell[:199] + "…"
    assert (found.row, found.column, found.value, found.reason) == (2, column, shown, reason)
    assert read.rejects[column].tolist() == [cell]


def test_ends_of_a_range_are_legal(tmp_path):
    read = read_text(
        tmp_path,
        "tag,inlet_temp_f,orifice_in,hours_per_year\nA,-459.67,2,8784\nB,1500,0.001,0\n",
    )
    assert not len(read.rejects)


def test_a_vacuum_depends_on_the_altitude(tmp_path):
    text = "tag,supply_psig\nT-1,-13\n"
    assert len(read_text(tmp_path, text).table) == 1
    high = read_text(tmp_path, text, altitude_ft=6000)
    assert high.rejects["reason"].tolist() == [
        "impossible: at or below a perfect vacuum at this altitude"
    ]


def test_absolute_pressures_become_gauge_by_the_altitude(tmp_path):
    text = "tag,supply_psia\nT-1,30\n"
    sea, high = read_text(tmp_path, text), read_text(tmp_path, text, altitude_ft=5000)
    assert sea.table["supply_psig"][0] == pytest.approx(30 - 14.695949)
    # US Standard Atmosphere 1976: 12.228 psia at 5,000 ft.
    assert high.table["supply_psig"][0] == pytest.approx(30 - 12.228, abs=2e-3)


def test_no_tag_no_reading_and_a_tag_given_twice(tmp_path):
    read = read_text(
        tmp_path, "tag,area,inlet_temp_f\n,N,200\nT-1,N,\nT-2,N,200\nT-2 ,S,210\n-,N,200\n"
    )
    assert list(zip(read.rejects["row"], read.rejects["reason"], strict=True)) == [
        (2, "no tag"),
        (3, NO_READING),
        (5, "the tag is already on row 4"),
        (6, "no tag"),
    ]
    assert read.table["area"].tolist() == ["N"]


def test_the_first_usable_row_of_a_tag_stays(tmp_path):
    read = read_text(tmp_path, "tag,inlet_temp_f\nT-1,-900\nT-1,200\nT-1,210\nT-1,hot\n")
    assert read.table["inlet_temp_f"].tolist() == [200.0]
    assert read.rejects["reason"].tolist() == [
        "impossible: below absolute zero",
        "the tag is already on row 3",
        "inlet_temp_f: not a number; tag: the tag is already on row 3",
    ]


def test_a_vent_under_the_number_of_its_trap_is_told_what_to_do(tmp_path):
    read = read_text(
        tmp_path,
        "tag,device,inlet_temp_f\nU-1,trap,200\nU-1,air vent,90\nU-1,check valve,200\n"
        "U-1,trap,210\nU-1,,210\nV-1,air vent,90\nV-1,,290\nV-1,air vent,90\n",
    )
    first, second = "the tag is already on row 2", "the tag is already on row 7"
    own = (", another kind of device: give each a number of its own, and its heater's name under "
           "equipment, so that both count")
    assert read.rejects["reason"].tolist() == [
        first + own, first + own, first, first, second + own, second,
    ]  # fmt: skip


def test_every_fault_of_a_row_is_told_at_once(tmp_path):
    read = read_text(tmp_path, "tag,inlet_temp_f,valve_position\n,~180,ajar\n")
    (found,) = read.rejects.itertuples(index=False)
    assert found.column == "inlet_temp_f; valve_position; tag"
    assert found.value == "~180; ajar"
    assert found.reason == (
        "inlet_temp_f: an estimate or a bound, not a reading; valve_position: expected open or "
        "closed; tag: no tag"
    )


def test_unknown_words_for_type_and_service_are_missing_and_kept(tmp_path):
    read = read_text(tmp_path, "tag,trap_type,inlet_temp_f\nA,swirl,200\nB,F&T,200\n")
    assert read.table["trap_type"].isna().tolist() == [True, False]
    assert read.originals["input_trap_type"].tolist() == ["swirl", "F&T"]
    assert read.notes == (
        "trap_type: 1 cells with words it does not know were taken as missing: 'swirl' (1)",
    )


@pytest.mark.parametrize(
    ("column", "typed"),
    [("service", "spare"), ("trap_type", "swirl")],
)
def test_an_unknown_word_that_a_row_can_do_without_costs_its_cell_alone(tmp_path, column, typed):
    read = read_text(tmp_path, f"tag,{column},inlet_temp_f\nA,{typed},200\nB,,200\n")
    assert read.table["tag"].tolist() == ["A", "B"]
    assert read.table[column].isna().all()
    assert read.originals[f"input_{column}"].tolist() == [typed, ""]
    assert read.notes == (
        f"{column}: 1 cells with words it does not know were taken as missing: {typed!r} (1)",
    )


@pytest.mark.parametrize(
    ("column", "typed", "known", "choice"),
    [
        ("sound_pattern", "intermitent", "intermittent", "intermittent"),
        ("sound_pattern", "Contnuous", "continuous", "continuous"),
        ("trap_type", "F&T trpa", "f and t trap", "float_thermostatic"),
        ("observed", "steem", "steam", "steam"),
        ("thermometer", "infrarred", "infrared", "infrared"),
    ],
)
def test_a_typing_slip_is_taken_for_the_known_word_and_said(tmp_path, column, typed, known, choice):
    read = read_text(tmp_path, f"tag,{column},inlet_temp_f\nA,{typed},200\nB,{typed},200\n")
    assert read.table[column].tolist() == [choice, choice]
    assert read.originals[f"input_{column}"].tolist() == [typed, typed]
    assert read.notes == (
        f"{column}: words with a typing slip were taken for the known one: "
        f"{typed!r} (2) as {known!r}",
    )


@pytest.mark.parametrize(
    ("column", "typed"),
    [
        ("observed", "aer"),  # a short word is near to too many
        ("thermometer", "air"),  # 'ir' is no slip away from it
        ("trap_type", "check valv"),
        ("sound_pattern", "unsteady"),
        ("valve_position", "closedd"),  # dangerous to be wrong about
        ("present", "fited"),
        ("observed", "not water"),  # no slip of 'hot water'
        ("trap_type", "water"),  # of another column, and no 'wafer'
    ],
)
def test_what_may_be_another_word_is_no_slip(column, typed):
    assert slip_of(typed, column) is None


def test_a_word_one_slip_from_two_choices_is_taken_for_neither(monkeypatch):
    monkeypatch.setitem(CHOICE_WORDS["observed"], "stream", "water")
    assert slip_of("streem", "observed") == "stream"
    assert slip_of("steem", "observed") == "steam"
    assert slip_of("stewam", "observed") == "steam"
    monkeypatch.setitem(CHOICE_WORDS["observed"], "steal", "water")
    assert slip_of("steab", "observed") is None


def test_the_table_has_every_column_in_its_kind(tmp_path):
    read = read_text(tmp_path, "tag,inlet_temp_f\nT-1,200\n")
    assert tuple(read.table.columns) == INPUT_NAMES
    for column in INPUT_COLUMNS:
        series = read.table[column.name]
        if column.kind == "number":
            assert series.dtype == np.float64
        elif column.kind == "choice":
            assert tuple(series.cat.categories) == column.choices
        else:
            assert series.dtype == "str"
    assert read.table["device"].tolist() == ["trap"]
    assert read.table["equipment"].isna().all()


def test_an_input_column_never_hides_a_finding(tmp_path):
    read = read_text(tmp_path, "tag,state,inlet_temp_f,reason,note,Remarks\nT-1,ok,200,why,n,r\n")
    assert read.originals.columns.tolist() == ["input_state", "input_reason", "Remarks"]
    assert read.given == ("tag", "state", "inlet_temp_f", "reason", "note", "Remarks")
    assert read.notes[-1] == (
        "kept under another name, since the findings use theirs: 'state' as 'input_state', "
        "'reason' as 'input_reason'"
    )


def test_repeated_headers_are_numbered_and_kept(tmp_path):
    read = read_text(tmp_path, "tag,dB,dB,dB\nT-1,30,31,32\n")
    assert read.given == ("tag", "dB", "dB (2)", "dB (3)")
    assert read.originals.iloc[0].tolist() == ["30", "31", "32"]
    assert read.table["sound_db"].tolist() == [30.0]


def test_hints_about_units_change_nothing(tmp_path):
    rows = "".join(f"T-{i},{90 + i},5.{i}\n" for i in range(8))
    read = read_text(tmp_path, "tag,Inlet temp,Orifice\n" + rows)
    assert len(read.rejects) == 8
    assert any(
        "has no unit and was taken as °F, but all of it is under 200" in n for n in read.notes
    )
    assert any("it may be mm" in note for note in read.notes)


def hints(tmp_path, text):
    return [n for n in read_text(tmp_path, text).notes if "set its unit with a header map" in n]


def lines(cells, count=8):
    return "".join(f"T-{i},{cells}\n" for i in range(count))


@pytest.mark.parametrize(("text", "said"), [
    # Taken as °F, but all under what any surface on steam has: °C perhaps.
    ("tag,Inlet temp\n" + lines("190"), "as °C would be"),
    ("tag,Inlet temp\n" + lines("200"), None),
    ("tag,Inlet temp\n" + lines("40"), None),
    ("tag,Inlet temp\n" + lines("190", 4), None),
    ("tag,Inlet temp (°F)\n" + lines("190"), None),
    # A few hot ones among cold ones are no hint: the pipes were cold.
    ("tag,Inlet temp\n" + lines("90", 7) + "H-1,260\nH-2,260\n", None),
    # Hotter than such steam can be.
    ("tag,inlet_temp_f,Supply\n" + lines("270,5"), "it may be bar"),
    ("tag,inlet_temp_f,Supply\n" + lines("262,5"), None),
    ("tag,inlet_temp_f,Supply\n" + lines("270,16"), None),
    ("tag,inlet_temp_f,supply_psig\n" + lines("270,5"), None),
    # Bores that no trap has.
    ("tag,inlet_temp_f,Orifice\n" + lines("270,3", 5), "it may be mm"),
    ("tag,inlet_temp_f,Orifice\n" + lines("270,3", 4), None),
    ("tag,inlet_temp_f,orifice_in\n" + lines("270,3"), None),
])  # fmt: skip
def test_a_unit_that_was_assumed_is_doubted_where_the_figures_speak_against_it(
    tmp_path, text, said
):
    found = hints(tmp_path, text)
    assert [said in one for one in found] == ([] if said is None else [True])


def test_other_faults_are_no_hint_about_bores(tmp_path):
    head = "tag,inlet_temp_f,Orifice,lift_ft,sound_db,hours_per_year,device,present\n"
    read = read_text(tmp_path, head + lines("hot,3,x,x,x,pump,perhaps", 4) + lines("hot,1,x,,,,"))
    assert len(read.rejects) == 12
    assert not any("it may be mm" in note for note in read.notes)


def test_a_name_may_be_as_long_as_the_limit(tmp_path):
    for column in ("tag", "area"):
        text = f"tag,area,inlet_temp_f\n{'T' if column == 'area' else 'x' * 200},"
        text += f"{'x' * 200 if column == 'area' else 'A'},200\n"
        assert len(read_text(tmp_path, text).table) == 1
        over = read_text(tmp_path, text.replace("x" * 200, "x" * 201)).rejects
        assert over["reason"].tolist() == ["longer than 200 characters"]


def test_too_many_rows_aside_is_no_round_and_names_the_first(tmp_path, monkeypatch):
    monkeypatch.setattr(gather, "MAX_SET_ASIDE", 3)
    text = "tag,inlet_temp_f\nA,200\nB,hot\nC,~2\nD,\n"
    assert len(read_text(tmp_path, text).rejects) == 3
    with pytest.raises(UnreadableFile) as caught:
        read_text(tmp_path, text + "A,210\n")
    assert str(caught.value).startswith(
        "A round was expected, with at most 3 rows that cannot be used. Found: 4 of them; the "
        "first: not a number. Where: round.csv, row 3."
    )


def test_a_kept_header_gets_a_name_that_nothing_else_has(tmp_path):
    text = "tag,state,input_state,inlet_temp_f\nT-1,a,b,200\n"
    read = read_text(tmp_path, text)
    assert read.originals.iloc[0].to_dict() == {"input_input_state": "a", "input_state": "b"}


def test_many_renamed_headers_are_said_up_to_eight(tmp_path):
    kept = [name for name in FINDING_NAMES if name not in INPUT_NAMES][:10]
    read = read_text(tmp_path, f"tag,inlet_temp_f,{','.join(kept)}\nT-1,200{',x' * len(kept)}\n")
    (note,) = [note for note in read.notes if note.startswith("kept under another name")]
    assert note.count(" as ") == 8
    assert note.endswith(" and 2 more")
    assert read.originals.columns.tolist() == [f"input_{name}" for name in kept]


def test_where_a_table_has_two_files_a_tag_given_twice_says_which(tmp_path):
    for name, rows in (("a.csv", "A,200\nB,hot\n"), ("b.csv", "C,200\nA,210\nB,220\nB,230\n")):
        (tmp_path / name).write_text(f"tag,inlet_temp_f\n{rows}", encoding="utf-8")
    read = read_round([tmp_path / "a.csv", tmp_path / "b.csv"])
    assert read.table["tag"].tolist() == ["A", "C", "B"]
    assert read.rejects[["row", "value", "reason"]].to_numpy().tolist() == [
        ["a.csv, row 3", "hot", "not a number"],
        ["b.csv, row 3", "A", "the tag is already on row 2 of a.csv"],
        ["b.csv, row 5", "B", "the tag is already on row 4"],
    ]
