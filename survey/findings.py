"""Findings: the judged round, and the three kinds of file it is kept in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from survey.columns import FINDING_COLUMNS, INPUT_COLUMNS
from survey.errors import OutputError, SurveyError, UnreadableFile
from survey.writing import replacing, write_csv, write_xlsx

_SUMMARY_KEY = b"survey.summary"
_REJECTS_KEY = b"survey.rejects"
# Words such as "None" or "NA" are text that someone wrote.
_ONLY_BLANK_IS_MISSING: dict[str, Any] = {"keep_default_na": False, "na_values": [""]}
_NEEDED = ("tag", "state", "confidence", "annual_cost", "rank")


@dataclass(frozen=True)
class Findings:
    """One judged round.

    Parameters
    ----------
    table
        One row per judged device: input columns, then those of `columns.FINDING_COLUMNS`.
    rejects
        One row per row set aside: row, column, value, reason, then the row as it was.
    summary
        Totals, counts, assumptions and calibration; JSON types only. Empty where the
        findings were read from a CSV, which has no place for it.
    """

    table: pd.DataFrame
    rejects: pd.DataFrame
    summary: dict[str, Any]

    def save(self, path: str | Path) -> None:
        """Write the findings, atomically, in the kind of file that the suffix names.

        Raises
        ------
        OutputError
            The suffix is not .parquet, .csv or .xlsx, or the place cannot be written.
        """
        path = Path(path)
        suffix = path.suffix.lower()
        if suffix == ".parquet":
            with replacing(path) as temporary:
                self._write_parquet(temporary)
        elif suffix == ".csv":
            write_csv(self.table, path)
        elif suffix == ".xlsx":
            write_xlsx(self._sheets(), path)
        else:
            raise OutputError(
                "A findings file ends in .parquet, .csv or .xlsx",
                found=path.name,
                do="give --out a name with one of these endings",
            )

    @classmethod
    def load(cls, path: str | Path) -> Findings:
        """Read a findings file back.

        Raises
        ------
        UnreadableFile
            There is no such file, or it is not a findings file.
        """
        path = Path(path)
        try:
            findings = _LOADERS[path.suffix.lower()](path)
        except SurveyError:
            raise
        except KeyError:
            raise _not_findings(path, f"a name ending in {path.suffix or 'nothing'}") from None
        except OSError as error:
            raise _not_findings(path, error.strerror or "nothing readable") from None
        except Exception:  # the readers below raise a dozen kinds for a damaged file
            raise _not_findings(path, "a file that cannot be read as one") from None
        missing = [name for name in _NEEDED if name not in findings.table.columns]
        if missing:
            raise _not_findings(path, f"no column {missing[0]!r}")
        return findings

    def _write_parquet(self, path: Path) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        table = pa.Table.from_pandas(self.table, preserve_index=False)
        metadata = dict(table.schema.metadata or {})
        metadata[_SUMMARY_KEY] = json.dumps(self.summary, allow_nan=False).encode()
        rejects = self.rejects.astype("str").where(self.rejects.notna(), None)
        metadata[_REJECTS_KEY] = rejects.to_json(orient="split", index=False).encode()
        pq.write_table(table.replace_schema_metadata(metadata), path)

    def _sheets(self) -> dict[str, pd.DataFrame]:
        about = [(key, json.dumps(value)) for key, value in self.summary.items()]
        return {
            "findings": self.table,
            "set aside": self.rejects,
            "assumptions": pd.DataFrame({"assumption": self.summary.get("assumptions", [])}),
            "summary": pd.DataFrame(about, columns=["key", "value"]),
        }


def _not_findings(path: Path, found: str) -> UnreadableFile:
    return UnreadableFile(
        "A findings file (.parquet, .csv or .xlsx) was expected",
        found=found,
        where=str(path),
        do="make one with: survey analyze ROUND --out findings.parquet",
    )


def _load_parquet(path: Path) -> Findings:
    import pyarrow.parquet as pq

    arrow = pq.read_table(path)
    metadata = arrow.schema.metadata or {}
    summary = json.loads(metadata.get(_SUMMARY_KEY, b"{}"))
    split = json.loads(metadata.get(_REJECTS_KEY, b'{"columns": [], "data": []}'))
    rejects = pd.DataFrame(split["data"], columns=split["columns"], dtype=object)
    return Findings(arrow.to_pandas(), rejects, summary)


def _load_csv(path: Path) -> Findings:
    table = pd.read_csv(path, dtype={"tag": "str"}, low_memory=False, **_ONLY_BLANK_IS_MISSING)
    return Findings(_text_stays_text(table), pd.DataFrame(), {})


def _load_xlsx(path: Path) -> Findings:
    table = _sheet(path, "findings", dtype={"tag": "str"})
    about = _sheet(path, "summary", dtype="str")
    summary = {str(k): json.loads(v) for k, v in zip(about["key"], about["value"], strict=True)}
    rejects = _sheet(path, "set aside", dtype="str")
    return Findings(_text_stays_text(table), rejects, summary)


def _sheet(path: Path, name: str, *, dtype: Any) -> pd.DataFrame:
    return pd.read_excel(
        path, sheet_name=name, engine="calamine", dtype=dtype, **_ONLY_BLANK_IS_MISSING
    )


def _text_stays_text(table: pd.DataFrame) -> pd.DataFrame:
    # A column with no text in it reads back as numbers (all missing); give it its kind again.
    for column in (*INPUT_COLUMNS, *FINDING_COLUMNS):
        if column.name not in table.columns:
            continue
        values = table[column.name]
        if column.kind == "number":
            table[column.name] = values.astype("float64")
        elif pd.api.types.is_numeric_dtype(values.dtype):
            table[column.name] = values.astype(object).map(str, na_action="ignore").astype("str")
    return table


_LOADERS = {".parquet": _load_parquet, ".csv": _load_csv, ".xlsx": _load_xlsx}
