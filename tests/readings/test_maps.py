from __future__ import annotations

import pytest

from survey.errors import MapError
from survey.readings import dump_header_map, load_header_map, read_round, understand
from tests.readings.build import read_text

SHAPE = 'write a [columns] table with lines such as "Inlet Temp (°F)" = "inlet_temp_f"'


def write_map(folder, text):
    path = folder / "map.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_map_is_read(tmp_path):
    path = write_map(tmp_path, '[columns]\n"T (°C)" = "inlet_temp_c"\n"x" = ""\n')
    assert load_header_map(path) == {"T (°C)": "inlet_temp_c", "x": ""}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            '[columns]\n"T" = "inlet_temp"\n',
            "A column of a round was expected for the header 'T'. Found: 'inlet_temp'. Where: "
            "{path}. What to do: the nearest known column is 'inlet_temp_f'; correct it, or write "
            '"" to keep the header as it is.',
        ),
        (
            '[colums]\n"T" = "tag"\n',
            "A header map with one table, [columns], was expected. Found: the key 'colums'. "
            f"Where: {{path}}. What to do: {SHAPE}.",
        ),
        (
            "",
            "A header map with one table, [columns], was expected. Found: no [columns] table. "
            f"Where: {{path}}. What to do: {SHAPE}.",
        ),
        (
            "[columns]\nT = 'tags'\n",
            "A column of a round was expected for the header 'T'. Found: 'tags'. Where: {path}. "
            "What to do: the nearest known column is 'tag'; correct it, or write \"\" to keep the "
            "header as it is.",
        ),
    ],
)
def test_a_wrong_map_is_told_exactly(tmp_path, text, message):
    path = write_map(tmp_path, text)
    with pytest.raises(MapError) as caught:
        load_header_map(path)
    assert str(caught.value) == message.format(path=path)


@pytest.mark.parametrize("raw", [b"\xff\xfe", b"[columns", b"a = " + b"[" * 5000])
def test_what_is_no_toml_is_a_map_error(tmp_path, raw):
    path = tmp_path / "map.toml"
    path.write_bytes(raw)
    with pytest.raises(MapError, match="A header map in TOML"):
        load_header_map(path)
    with pytest.raises(MapError, match="A header map was expected"):
        load_header_map(tmp_path / "none.toml")


def test_a_map_that_names_no_header_is_an_error(tmp_path):
    with pytest.raises(MapError, match="nearest header is 'inlet_temp_f'"):
        read_text(tmp_path, "tag,inlet_temp_f\nT-1,212\n", header_map={"inlet temp f": "tag"})


def test_a_dumped_map_reproduces_the_mapping(tmp_path):
    path = tmp_path / "round.csv"
    path.write_text(
        'Trap No.;T in °C;Steam pressure [bar a];Seat bore mm;"odd ""\\ header";state\n'
        "T-1;120;2,5;3,2;x;ok\n",
        encoding="utf-8",
    )
    first = read_round(path)
    second = read_round(
        path, header_map=load_header_map(write_map(tmp_path, dump_header_map(first.matches)))
    )
    assert second.table.equals(first.table)
    assert [(m.column, m.unit) for m in second.matches] == [
        (m.column, m.unit) for m in first.matches
    ]


def test_a_preview_agrees_with_the_reading(tmp_path):
    path = tmp_path / "round.csv"
    path.write_text(
        "North houses\nTrap No.,Sound,Temp\n" + "T-{0},4{0},5\n" * 300, encoding="utf-8"
    )
    seen = understand(path)
    read = read_round(path)
    assert seen.matches == read.matches
    assert set(seen.notes) <= set(read.notes)
    assert seen.matches[1].sample == "4{0}"


def test_a_dumped_map_says_what_each_header_is(tmp_path):
    header_map = {"Hot": "inlet_temp_c", "Din": "sound_db", "Who": "tag", "Line": "supply_kpaa",
                  'odd "\\ one\x7f': ""}
    text = 'Hot,Din,Who,Line,"odd ""\\ one\x7f"\n100,30,T-1,300,x\n'
    read = read_text(tmp_path, text, header_map=header_map)
    assert load_header_map(write_map(tmp_path, dump_header_map(read.matches))) == header_map
