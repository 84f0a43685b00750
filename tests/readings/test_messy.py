from __future__ import annotations

import pytest

from survey.errors import UnreadableFile
from survey.readings import read_round, understand
from tests.readings.build import checked
from tests.readings.make_messy import FOLDER, TEXTS, make

ROUNDS = {
    # file: (tags judged, {line: start of the reason})
    "titles_and_units.csv": (
        ["T-1", "T-2"],
        {
            9: "T in: impossible: below absolute zero; US dB: an estimate",
            10: "a line of totals",
        },
    ),
    "decimal_commas.csv": (["V-1", "V-3"], {3: "impossible: over 1500 °F"}),
    "wide_text.csv": (["A-1", "A-2"], {4: "expected trap, air_vent"}),
    "ragged.csv": (
        ["T-1", "T-2"],
        {6: "5 cells where the header has 4", 8: "the tag is already on row 2"},
    ),
    "as_typed.csv": (
        ["T-1", "T-3"],
        {
            3: "an estimate or a bound",
            5: "expected quiet, intermittent",
            6: "impossible: a bore",
            7: "infinite, not a reading",
        },
    ),
    "hostile_text.csv": (['=HYPERLINK("x")', "T2-1", "../../etc/passwd"], {}),
    "two_of_each.csv": (["T-1"], {}),
    "millibars.csv": (["T-1"], {}),
    "header_only.csv": ([], {}),
    "no_tags.csv": ([], {2: "no tag", 3: "no tag"}),
    "parquet_named.csv": (["1"], {2: "no reading", 3: "no tag"}),
    "two_sheets.xlsx": (
        ["101", "S-1"],
        {
            "two_sheets.xlsx, sheet 'North', row 3": "not a number",
            "two_sheets.xlsx, sheet 'South', row 2": "the tag is already on row 2",
        },
    ),
}
REFUSED = {
    "page.csv": "a web page or XML",
    "list.csv": "JSON",
    "empty.csv": "an empty file",
    "cut.parquet": "damaged or cut short",
}


@pytest.mark.parametrize("name", ROUNDS)
def test_what_can_be_read_of_it_is(name):
    tags, aside = ROUNDS[name]
    read = checked(read_round(FOLDER / name))
    assert read.table["tag"].tolist() == tags
    assert read.rejects["row"].tolist() == list(aside)
    for reason, start in zip(read.rejects["reason"], aside.values(), strict=True):
        assert reason.startswith(start)
    assert [m.column for m in understand(FOLDER / name).matches] == [m.column for m in read.matches]


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_round_is_refused(name):
    with pytest.raises(UnreadableFile, match=REFUSED[name]):
        read_round(FOLDER / name)


def test_details_that_are_easy_to_get_wrong():
    read = read_round(FOLDER / "titles_and_units.csv")
    assert read.table["orifice_in"].tolist() == pytest.approx([3.2 / 25.4, 0.125])
    assert read.table["outlet_temp_f"].tolist() == pytest.approx([219.2, 243.5])
    read = read_round(FOLDER / "decimal_commas.csv")
    assert read.table["hours_per_year"].tolist() == [6000.0, 4972.0]
    assert read.originals["Heizkörper"].tolist() == ["UH-1", "UH-2"]
    read = read_round(FOLDER / "two_of_each.csv")
    assert read.table[["inlet_temp_f", "sound_db"]].to_numpy().tolist() == [[290.0, 30.0]]
    assert read.originals.columns.tolist() == [
        "No.",
        "Trap ID",
        "dB",
        "dB (2)",
        "Inlet Temp (°F)",
        "Temp",
    ]
    read = read_round(FOLDER / "hostile_text.csv")
    assert read.table["note"].tolist() == ["@SUM(1)", "[31mred[0m", "$\\input{x}$"]
    assert read.originals["input_state"].tolist() == ["working", "x", "x"]


def test_the_kept_files_are_the_made_ones(tmp_path):
    make(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == {p.name for p in FOLDER.iterdir()}
    assert set(ROUNDS) | set(REFUSED) == {p.name for p in FOLDER.iterdir()}
    for name in TEXTS:
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes()
