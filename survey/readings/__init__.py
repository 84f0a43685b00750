"""Files in: a round of readings from CSV, XLSX or Parquet, every fault in it found and named."""

from __future__ import annotations

from survey.readings.mapping import dump_header_map, load_header_map
from survey.readings.model import HeaderMatch, Round, Understanding
from survey.readings.reader import read_round, round_from_frame, understand
from survey.readings.tidy import tidy

__all__ = [
    "HeaderMatch",
    "Round",
    "Understanding",
    "dump_header_map",
    "load_header_map",
    "read_round",
    "round_from_frame",
    "tidy",
    "understand",
]
