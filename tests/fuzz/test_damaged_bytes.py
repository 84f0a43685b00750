"""Bytes of good files cut, flipped, repeated and swapped: refused in words, or read whole.

``SURVEY_FUZZ_EXAMPLES`` sets how many are tried. A file that fails is kept where
``SURVEY_ARTEFACTS`` says; put it into ``found/`` beside this module, and it is tried for ever.
"""

from __future__ import annotations

import os
import random
import shutil
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from tests.fuzz.test_whole_files import EXAMPLES, attempt
from tests.readings.build import write_sheets

HEAD = ["Trap No.", "Type", "Inlet Temp (°C)", "dB", "Present", "Remarks"]
ROWS = [[f"T-{i}", "F&T", 100.5 + i, 30 + i, True, "by the door"] for i in range(12)]


def good_file(folder: Path, kind: str) -> bytes:
    path = folder / f"good.{kind}"
    if kind == "xlsx":
        write_sheets(path, {"Round": [HEAD, *ROWS], "Notes": [["none"]]})
    elif kind == "parquet":
        columns = list(zip(*ROWS, strict=True))
        table = pa.Table.from_arrays([pa.array(column) for column in columns], names=HEAD)
        pq.write_table(table, path, compression="none")
    else:
        lines = [HEAD, *ROWS]
        path.write_text("".join(";".join(map(str, row)) + "\n" for row in lines), encoding="utf-8")
    return path.read_bytes()


def damage(raw: bytes, chance: random.Random) -> bytes:
    data = bytearray(raw)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(data)) if data else 0
        act = chance.randrange(5)
        if act == 0:
            data[at : at + 1] = bytes([chance.randrange(256)])
        elif act == 1:
            del data[at : at + chance.randint(1, 40)]
        elif act == 2:
            data[at:at] = data[at : at + chance.randint(1, 40)]
        elif act == 3:
            data[at : at + 4] = chance.choice([b"\xff" * 4, b"\x00" * 4, b"\x7f\xff\xff\xff"])
        else:
            del data[max(at, 1) :]
    return bytes(data)


SAMPLES = Path(__file__).resolve().parents[2] / "sample_data"
FOUND = Path(__file__).with_name("found")
FIRST_SEED = int(os.environ.get("SURVEY_FUZZ_SEED", "0"))


def attempt_kept(path: Path, name: str) -> None:
    """Try a file; one that fails is kept, so that it can be tried again."""
    try:
        attempt(path)
    except BaseException:
        if os.environ.get("SURVEY_ARTEFACTS"):
            folder = Path(os.environ["SURVEY_ARTEFACTS"])
            folder.mkdir(parents=True, exist_ok=True)
            shutil.copy(path, folder / name)
        raise


@pytest.mark.parametrize(
    "name", ["nursery_round.csv", "nursery_messy.xlsx", "nursery_round.parquet"]
)
def test_damaged_samples(tmp_path, name):
    raw = (SAMPLES / name).read_bytes()
    for seed in range(FIRST_SEED, FIRST_SEED + max(5, EXAMPLES // 2)):
        (tmp_path / "round.bin").write_bytes(damage(raw, random.Random(f"{name} {seed}")))
        attempt_kept(tmp_path / "round.bin", f"{seed}_{name}")


@pytest.mark.parametrize("path", sorted(FOUND.iterdir()), ids=lambda path: path.name)
def test_what_was_found_once_stays_mended(path):
    attempt(path)


@pytest.mark.parametrize("kind", ["csv", "xlsx", "parquet"])
def test_damaged_files(tmp_path, kind):
    raw = good_file(tmp_path, kind)
    (tmp_path / "round.bin").write_bytes(raw)
    whole = attempt(tmp_path / "round.bin")
    assert whole is not None
    assert len(whole.table) == 12
    for seed in range(EXAMPLES * 2):
        (tmp_path / "round.bin").write_bytes(damage(raw, random.Random(f"{kind} {seed}")))
        attempt(tmp_path / "round.bin")


@pytest.mark.parametrize("kind", ["csv", "xlsx", "parquet"])
def test_every_cut(tmp_path, kind):
    raw = good_file(tmp_path, kind)
    step = max(1, len(raw) // (EXAMPLES * 2))
    for end in range(0, len(raw), step):
        (tmp_path / "round.bin").write_bytes(raw[:end])
        attempt(tmp_path / "round.bin")


def test_damage_inside_the_parts_of_a_workbook(tmp_path):
    import zipfile

    good_file(tmp_path, "xlsx")
    with zipfile.ZipFile(tmp_path / "good.xlsx") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for seed in range(EXAMPLES * 2):
        chance = random.Random(f"part {seed}")
        hurt = chance.choice([name for name in parts if "xl/" in name])
        with zipfile.ZipFile(tmp_path / "round.xlsx", "w") as archive:
            for name, data in parts.items():
                archive.writestr(name, damage(data, chance) if name == hurt else data)
        attempt(tmp_path / "round.xlsx")
