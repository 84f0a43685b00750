"""Make the messy files: rounds as they come in from the field, and files that are no rounds.

Run as ``python -m tests.readings.make_messy``; what each must give is in `test_messy`.
"""

from __future__ import annotations

import json
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from tests.readings.build import write_sheets

FOLDER = Path(__file__).parent / "messy"

TEXTS: dict[str, tuple[str, str]] = {
    "titles_and_units.csv": (
        "utf-8",
        (
            "Nursery steam traps\nRead on 3 November by the night shift\n\n"
            "Trap No.,Location,Type,T in,T out,Steam pressure,US dB,Bkg dB,Seat bore,Remarks\n"
            ",,,(°C),(°C),(bar g),,,(mm),\n"
            "T-1,Glasshouse A,F&T,121,104,1.1,34,28,3.2,\n"
            'T-2,Glasshouse A,IB,119,117.5,1.1,48,28,1/8",hisses\n'
            "Trap No.,Location,Type,T in,T out,Steam pressure,US dB,Bkg dB,Seat bore,Remarks\n"
            "T-3,Laundry,TD,-300,98,2.4,~40,30,3.2,\n"
            "Total,,,,,,,,,\n"
        ),
    ),
    "decimal_commas.csv": (
        "cp1252",
        (
            "Tag;Heizkörper;Inlet Temp (°C);Back pressure (bar);Lift (m);Hrs/yr\n"
            "V-1;UH-1;120,5;0,2;2,5;6.000\nV-2;UH-1;1.120,5;0,2;2,5;6.000\nV-3;UH-2;98;0;0;4.972\n"
        ),
    ),
    "wide_text.csv": (
        "utf-16",
        (
            "tag\tdevice\tvalve_position\tpresent\tnote\n"
            "A-1\tair vent\tshut\ty\tbehind the bench\nA-2\tbreaker\topen\tx\t\n"
            "A-3\tpump\topen\ty\t\n"
        ),
    ),
    "ragged.csv": (
        "utf-8",
        (
            'tag,inlet_temp_f,outlet_temp_f,note\nT-1,290,210\nT-2,290,210,"two\nlines"\n\n'
            "T-3,290,210,a,b\n,,,\nT-1,291,210,\n"
        ),
    ),
    "as_typed.csv": (
        "utf-8-sig",
        (
            "tag,inlet_temp_f,orifice_in,sound_db,sound_pattern,observed\n"
            "T-1,290 F,3/16,34 dB,cont.,nothing\nT-2,>200,1/8,34,quiet,\n"
            "T-3,143 °C,1 1/4,?,cycling,\n"
            'T-4,n/a,"0,125",NR,hissing,\nT-5,—,80,,,water\nT-6,inf,,,,\n'
        ),
    ),
    "hostile_text.csv": (
        "utf-8",
        (
            "tag,inlet_temp_f,note,state,<script>alert(1)</script>\n"
            '"=HYPERLINK(""x"")",290,@SUM(1),working,a\n'
            "T\u202e2-1,290,\x1b[31mred\x1b[0m,x,b\n../../etc/passwd,290,$\\input{x}$,x,c\n"
        ),
    ),
    "two_of_each.csv": (
        "utf-8",
        ("No.,Trap ID,dB,dB,Inlet Temp (°F),inlet_temp_f,Temp\n1,T-1,30,31,280,290,70\n"),
    ),
    "millibars.csv": ("utf-8", "tag,Steam pressure (mbar),Inlet temp (°F)\nT-1,900,290\n"),
    "header_only.csv": ("utf-8", "tag,inlet_temp_f\n"),
    "no_tags.csv": ("utf-8", "inlet_temp_f,outlet_temp_f\n290,210\n291,212\n"),
    "page.csv": ("utf-8", "<!DOCTYPE html><html><body><table><tr><td>T-1</td></tr></table>"),
    "list.csv": ("utf-8", json.dumps([{"tag": "T-1", "inlet_temp_f": 290}])),
    "empty.csv": ("utf-8", ""),
}


def make(folder: Path = FOLDER) -> None:
    """Write every file anew."""
    folder.mkdir(exist_ok=True)
    for name, (encoding, text) in TEXTS.items():
        (folder / name).write_bytes(text.encode(encoding))
    write_sheets(
        folder / "two_sheets.xlsx",
        {
            "Cover": [["Steam trap round"], ["Nursery"]],
            "North": [
                ["Trap ID", "Inlet Temp (°C)", "Present"],
                [101, 120.5, True],
                [102, "hot", True],
            ],
            "South": [["Trap ID", "Inlet Temp (°F)", "rank"], [101, 250, 3], ["S-1", 251, 1]],
        },
    )
    pq.write_table(
        pa.table({"tag": [1.0, 2.0, None], "T in °C": pa.array([120.0, None, 90.0], pa.float32())}),
        folder / "parquet_named.csv",
    )
    (folder / "cut.parquet").write_bytes((folder / "parquet_named.csv").read_bytes()[:-30])


if __name__ == "__main__":
    make()
