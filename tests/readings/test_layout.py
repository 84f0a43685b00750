"""Where the header is, where the rows begin, and what the columns are called."""

from __future__ import annotations

from pathlib import Path

import pytest

from survey.errors import MapError
from survey.readings import limits, load_header_map
from survey.readings.headers import recognised
from survey.readings.layout import find_layout, is_units_row, strip_brackets, unique_headers
from tests.readings.build import read_text

TITLE = ["North houses", "November"]


def test_the_row_with_most_known_headers_is_the_header_the_first_of_equals() -> None:
    grid = [
        ["Trap No."], ["tag", "inlet_temp_f", "dB"],
        ["Tag No.", "sound_db", "note"], ["x", "1", "2"],
    ]  # fmt: skip
    found = find_layout(grid)
    assert found is not None
    assert (found.header_at, found.known, found.rows_at) == (1, 3, 2)


def test_numbers_in_a_row_speak_against_its_being_the_header() -> None:
    # 'Area' in a title beside readings is no header; nor is a row of which more is numbers.
    grid = [["tag", "12", "13,5"], ["Trap No.", "Inlet temp"], ["T-1", "200"]]
    found = find_layout(grid)
    assert found is not None
    assert found.header_at == 1


def test_words_that_a_column_holds_again_and_again_are_no_headers() -> None:
    # 'trap' is a header too, and 'T2' one of an outlet; but this sheet's own are not understood.
    grid = [["Aa", "Bb", "Cc", "Dd"], ["T1", "vent", "4", "x"], ["T2", "trap", "4", "y"],
            ["T3", "trap", "5", "z"]]  # fmt: skip
    found = find_layout(grid)
    assert found is not None
    assert (found.header_at, found.known) == (0, 0)


def test_a_header_that_comes_again_on_every_page_is_still_the_header() -> None:
    head = ["tag", "inlet_temp_f", "dB"]
    found = find_layout([TITLE, head, ["T-1", "200", "30"], head, ["T-2", "201", "31"]])
    assert found is not None
    assert (found.header_at, found.known) == (1, 3)


def test_where_nothing_is_known_the_first_row_as_wide_as_most_is_the_header() -> None:
    grid = [TITLE, TITLE, TITLE, *([["a", "b", "c", "d", "e"]] * 4)]
    found = find_layout(grid)
    assert found is not None
    assert (found.header_at, found.known) == (3, 0)
    narrow = find_layout([["a", "b"], ["c", "d"], ["e", "f", "g"]])
    assert narrow is not None
    assert narrow.header_at == 0


@pytest.mark.parametrize("grid", [[], [[""]], [["only"], ["one"]], [["", " "], ["x", ""]]])
def test_one_column_of_unknown_words_is_no_table(grid: list[list[str]]) -> None:
    assert find_layout(grid) is None


def test_a_header_far_down_is_found_as_far_as_it_is_looked_for() -> None:
    def known(lines: int) -> int:
        found = find_layout([*([["a title"]] * lines), ["tag", "inlet_temp_f"], ["T-1", "200"]])
        assert found is not None
        assert found.header_at == lines  # further down, only since nothing else is as wide
        return found.known

    assert [known(limits.HEADER_SEARCH_ROWS - 1), known(limits.HEADER_SEARCH_ROWS)] == [2, 0]


def test_a_header_that_only_a_map_knows_is_found_under_titles(tmp_path: Path) -> None:
    text = "North houses,November,,\nseen by,day,,\nWhich,Hot end,Cold end,Din\nT-1,200,180,40\n"
    header_map = {"Which": "tag", "Hot end": "inlet_temp_f", "Din": "sound_db"}
    assert recognised("Hot  end", header_map)
    assert not recognised("Hot end")
    read = read_text(tmp_path, text, header_map=header_map)
    assert read.table["inlet_temp_f"].tolist() == [200.0]
    assert read.lines.tolist() == [4]
    assert read.originals.columns.tolist() == ["Which", "Hot end", "Cold end", "Din"]


def test_a_header_longer_than_any_is_no_header() -> None:
    assert recognised("tag" + " " * 197)
    assert not recognised("tag" + " " * 198)
    assert recognised("inlet_temp_c")


@pytest.mark.parametrize(("row", "units"), [
    (["", "(°F)", "psig"], True),
    (["-", "°C", "n/a"], True),
    (["text", "kg/cm²", "rank"], True),
    (["", "lb/in2", "cm"], True),
    (["T-1", "°F", "psig"], False),
    (["°F", "by the door"], True),
    (["°F", "by", "the", "door"], False),
    (["", "", ""], False),
    (["°F", "beside the north door"], False),
    (["200", "180"], False),
])  # fmt: skip
def test_a_row_of_units(row: list[str], units: bool) -> None:
    assert is_units_row(row) is units


FILLERS = ("", "-", "–", "—", "text", "unit", "units", "unit:", "Units:", "name", "ID", "no", "No.",
           "#", "y/n", "Yes/No", "date", "none", "n/a")  # fmt: skip


@pytest.mark.parametrize("word", FILLERS)
def test_what_stands_for_no_unit_among_units_does_not_count(word: str) -> None:
    assert is_units_row([word, word, word, "°C"])
    assert not is_units_row([word] * 4)


def test_a_units_row_may_have_a_blank_line_above_it_but_not_two(tmp_path: Path) -> None:
    for blank, found in (("", 212.0), ("\n", 212.0)):
        text = f"Trap No.,Inlet Temp\n{blank},(°C)\nT-1,100\n"
        assert read_text(tmp_path, text).table["inlet_temp_f"].tolist() == [found]
    grid = [["Trap No.", "Inlet Temp"], ["", ""], ["", ""], ["", "°C"], ["T-1", "100"]]
    layout = find_layout(grid)
    assert layout is not None
    assert (layout.units, layout.rows_at) == ({}, 1)


@pytest.mark.parametrize(("typed", "bare"), [
    ("(psig)", "psig"), ("[°C]", "°C"), (" ( bar ) ", "bar"), ("bar(g)", "bar(g)"), ("()", "()"),
    ("(g)", "g"), ("((x))", "(x)"), ("(max", "(max"), ("x)", "x)"), ("_m)", "_m)"),
])  # fmt: skip
def test_one_pair_of_brackets_comes_off(typed: str, bare: str) -> None:
    assert strip_brackets(typed) == bare


def test_every_column_has_a_name_of_its_own() -> None:
    names, unnamed = unique_headers(["a", "", "a", "  ", "a (2)", " a ", "x" * 300])
    assert names == ("a", "column 2", "a (2)", "column 4", "a (2) (2)", "a (3)", "x" * 200)
    assert unnamed == {"column 2", "column 4"}
    assert len(set(names)) == len(names)


def test_titles_are_said_and_a_delimiter_line_is_not_one(tmp_path: Path) -> None:
    for top, said in (
        ("sep=,\n", ()),
        ("One\n", ("one title line above the header skipped: 'One'",)),
        ("One\n\nTwo,  x\n", ("2 title lines above the header skipped: 'One; Two, x'",)),
    ):
        assert read_text(tmp_path, f"{top}tag,inlet_temp_f\nT-1,200\n").notes == said


def test_a_map_past_a_megabyte_is_refused_whatever_it_says(tmp_path: Path) -> None:
    path = tmp_path / "map.toml"
    head = '[columns]\n"T" = "tag"\n#'
    path.write_text(head + "x" * (1_000_000 - len(head)), encoding="utf-8")
    assert load_header_map(path) == {"T": "tag"}
    path.write_text(head + "x" * (1_000_001 - len(head)), encoding="utf-8")
    with pytest.raises(MapError, match=r"A header map under 1 MB was expected\. Found: 1,000,001"):
        load_header_map(path)
