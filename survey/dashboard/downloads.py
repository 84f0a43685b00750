"""Findings and rejected rows as files to take away, made when they are asked for."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import streamlit as st

from survey.findings import Findings
from survey.writing import write_csv

_KINDS = {
    "csv": ("CSV", "text/csv"),
    "xlsx": ("Excel", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    "parquet": ("Parquet", "application/vnd.apache.parquet"),
}


def findings_buttons(findings: Findings) -> None:
    """Draw one button for each kind of findings file."""
    for column, (suffix, (words, mime)) in zip(
        st.columns(len(_KINDS)), _KINDS.items(), strict=True
    ):
        column.download_button(
            f"Findings, {words}",
            data=_findings_maker(findings, suffix),
            mime=mime,
            file_name=f"findings.{suffix}",
            on_click="ignore",
            width="stretch",
            key=f"findings_{suffix}",
        )


def rejects_button(findings: Findings) -> None:
    """Draw the button for the rows that were set aside; nothing where there are none."""
    if len(findings.rejects):
        st.download_button(
            "Rows set aside, CSV",
            data=lambda: made("rejects.csv", findings),
            mime="text/csv",
            file_name="rejects.csv",
            on_click="ignore",
            width="stretch",
            key="rejects",
        )


def _findings_maker(findings: Findings, suffix: str) -> Callable[[], bytes]:
    return lambda: made(f"findings.{suffix}", findings)


def made(name: str, findings: Findings) -> bytes:
    """Return the file of this name: rejects.csv, or findings in the kind its ending says."""
    with tempfile.TemporaryDirectory(prefix="survey-") as folder:
        path = Path(folder) / name
        if name.startswith("rejects"):
            write_csv(findings.rejects, path)
        else:
            findings.save(path)
        return path.read_bytes()
