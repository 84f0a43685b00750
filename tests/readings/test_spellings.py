"""Names of places written in several ways: one where sure, asked about where not."""

from __future__ import annotations

import time
from collections.abc import Mapping
from pathlib import Path

import pandas as pd
import pytest

from survey import Site, analyze
from survey.readings import read_round, round_from_frame, understand
from survey.readings.spellings import MOST_NAMES, Spellings, added_up

from .build import read_text


def renames(names: Mapping[str, int], *known: str) -> dict[str, str]:
    return dict(Spellings({}, {}, {"station": names}).renames(known).get("station", {}))


def asked(names: Mapping[str, int], *known: str) -> list[str]:
    notes = Spellings({}, {}, {"station": names}).notes(known)
    return [note for note in notes if "may be" in note]


def rows(names: Mapping[str, int], header: str = "station") -> str:
    every = [name for name, count in names.items() for _ in range(count)]
    lines = [f'S-{n},"{name}",{280 + n % 9}' for n, name in enumerate(every)]
    return f"tag,{header},inlet_temp_f\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("names", "stands"),
    [
        ({"East": 20, "east": 2, "EAST ": 1}, "East"),
        ({"east": 5, "East": 2}, "east"),
        ({"Packing hall 2": 3, "packing-hall 2": 1, "Packing Hall2": 1}, "Packing hall 2"),
        ({"House A & B": 2, "house a and b": 1}, "House A & B"),
        ({"b": 2, "B": 2}, "B"),
    ],
)
def test_names_that_differ_only_in_how_they_are_written_are_one(names, stands):
    assert renames(names) == {name: stands for name in names if name != stands}


@pytest.mark.parametrize(
    "names",
    [
        ("Bay 1-2", "Bay 12"),
        ("Level -1", "Level 1"),
        ("Hall A/B", "Hall AB"),
        ("Hall A+", "Hall A"),
        ("Bay 1.5", "Bay 15"),
        ("Hall 1", "Hall 2"),
        ("-", "."),
    ],
)
def test_names_whose_marks_mean_something_stay_apart(names):
    assert renames(dict.fromkeys(names, 3)) == {}


def test_the_spelling_of_the_sites_file_stands_and_names_it_tells_apart_stay():
    assert renames({"EAST": 9, "east": 2}, "East") == {"EAST": "East", "east": "East"}
    assert renames({"EAST": 9, "east": 2}, "EAST", "east") == {}


@pytest.mark.parametrize("rare", ["Wset", "Wesst", "Wes", "Wast"])
def test_a_rare_name_one_slip_away_is_asked_about_and_stays(tmp_path: Path, rare: str):
    names = {"West": 14, "East": 9, rare: 1}
    read = read_text(tmp_path, rows(names))
    assert read.table["station"].value_counts().to_dict() == names
    assert read.notes == (
        f"station: '{rare}' (1) may be 'West' (14); they were kept apart: if one is a typing "
        "slip, correct it in the file and read it again",
    )
    assert understand(tmp_path / "round.csv").notes == read.notes


@pytest.mark.parametrize(
    ("names", "known"),
    [
        ({"West": 14, "East": 9}, ()),
        ({"Bay 1": 14, "Bay 2": 1}, ()),
        ({"Hall A": 14, "Hall B": 1}, ()),
        ({"West": 14, "Wset": 9}, ()),
        ({"West": 2, "Wset": 1}, ()),
        ({"West": 14, "Wset": 1}, ("Wset",)),
        ({"N": 14, "S": 1}, ()),
        ({"Lab": 14, "Lap": 1}, ()),
    ],
)
def test_other_names_are_not_asked_about(names, known):
    assert asked(names, *known) == []


def test_the_note_has_the_spellings_and_their_counts_and_what_was_typed_is_kept(tmp_path: Path):
    for header in ("station", "area"):
        read = read_text(tmp_path, rows({"East": 3, "east": 2, "EAST": 1, "West": 1}, header))
        assert read.table[header].value_counts().to_dict() == {"East": 6, "West": 1}
        assert read.originals[f"input_{header}"].value_counts().to_dict() == {
            "East": 3, "east": 2, "EAST": 1, "West": 1,
        }  # fmt: skip
        assert read.notes == (
            f"{header}: names that differ only in case, spacing or punctuation were taken as "
            "one: 'East' (3) for 'east' (2), 'EAST' (1)",
        )


def test_several_files_are_one_round_for_names_too(tmp_path: Path):
    (tmp_path / "a.csv").write_text(rows({"East": 1}))
    (tmp_path / "b.csv").write_text(rows({"east": 3}).replace("S-", "R-"))
    read = read_round([tmp_path / "a.csv", tmp_path / "b.csv"])
    assert read.table["station"].tolist() == ["east"] * 4


def test_the_pressure_that_the_site_gives_a_station_is_found_under_every_spelling(tmp_path: Path):
    site = Site.from_mapping({"stations": {"East": {"supply_psig": 60.0}}}, where="here")
    given = tmp_path / "round.csv"
    given.write_text(rows({"EAST": 6, "east": 2}))
    found = analyze(given, site=site).table
    assert found["station"].tolist() == ["East"] * 8
    assert found["saturation_f"].round().tolist() == [307.0] * 8


def test_added_up_counts_are_those_of_the_whole_and_too_many_names_are_no_places():
    half = Spellings({"observed": {"mist": 1}}, {}, {"area": {"a": 1, "b": 2}})
    whole = added_up([half, half])
    assert whole.names["area"] == {"a": 2, "b": 4}
    assert whole.unknown["observed"] == {"mist": 2}
    many = Spellings({}, {}, {"area": {f"n{n}": 1 for n in range(MOST_NAMES)}})
    assert added_up([many]).names["area"] is not None
    assert added_up([many, half]).names["area"] is None
    assert added_up([many, half, half]).notes() == whole.notes()


def test_names_of_many_rows_and_many_names_take_no_time():
    count = 300_000
    frame = pd.DataFrame({
        "tag": [f"T-{n}" for n in range(count)],
        "station": [f"Row {'EAST' if n % 3 else 'east'} {n % 900}" for n in range(count)],
        "area": [f"Place {chr(97 + n % 26)}{chr(97 + n // 26 % 26)}xyz" for n in range(count)],
        "inlet_temp_f": 200.0,
    })  # fmt: skip
    read = round_from_frame(frame)
    assert read.table["station"].nunique() == 900
    cells = read.table["station"]
    started = time.perf_counter()
    Spellings({}, {}, {"station": cells.value_counts().to_dict()}).notes()
    assert time.perf_counter() - started < 2.0
