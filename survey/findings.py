"""Findings: the judged round, and the three kinds of file it is kept in."""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import pandas as pd
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from survey import writing
from survey.columns import FINDING_COLUMNS, FINDING_NAMES, INPUT_COLUMNS
from survey.errors import OutputError, SurveyError, UnreadableFile
from survey.paths import check_plain
from survey.writing import as_written, printable, replacing, write_csv, write_xlsx

_SUMMARY_KEY = b"survey.summary"
_REJECTS_KEY = b"survey.rejects"
# Words such as "None" or "NA" are text that someone wrote.
_ONLY_BLANK_IS_MISSING: dict[str, Any] = {"keep_default_na": False, "na_values": [""]}
_HARDLY_REPEATING = frozenset((
    "tag", "evidence", "inlet_temp_f", "outlet_temp_f", "sound_db",
    *(c.name for c in FINDING_COLUMNS if c.kind == "number"),
))  # fmt: skip
_OURS = frozenset(column.name for column in (*INPUT_COLUMNS, *FINDING_COLUMNS))
_NEEDED = ("tag", "device", *FINDING_NAMES)
_LONGEST_SHOWN = 80
_BEYOND_ALL_READING = 1e100  # infinities too; a sum of larger ones would overflow


class _Summary(BaseModel):
    """What every summary holds; more may be in it."""

    model_config = ConfigDict(strict=True, extra="allow", allow_inf_nan=False)

    rows_read: int = Field(ge=0)
    rows_judged: int = Field(ge=0)
    rows_set_aside: int = Field(ge=0)
    states: dict[str, int]
    states_by_device: dict[str, dict[str, int]]
    causes: dict[str, int]
    steam_loss_lb_per_h: float
    steam_loss_low_lb_per_h: float
    steam_loss_high_lb_per_h: float
    annual_cost: float
    annual_cost_low: float
    annual_cost_high: float
    annual_co2_t: float
    currency: str
    loss_basis: str
    assumptions: list[str]
    site_name: str = ""
    notes: list[str] = []
    calibration: list[dict[str, Any]] = []
    made_at: str = ""
    version: str = ""


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
        loader = _LOADERS.get(path.suffix.lower())
        if loader is None:
            raise _not_findings(path, f"a name ending in {path.suffix or 'nothing'}")
        try:
            check_plain(path)
            if path.is_dir():
                raise _not_findings(path, "a folder")
            findings = loader(path)
        except SurveyError:
            raise
        except OSError as error:
            raise _not_findings(path, error.strerror or "nothing readable") from None
        except Exception:  # the readers below raise a dozen kinds for a damaged file
            raise _not_findings(path, "a file that cannot be read as one") from None
        fault = _fault_in(findings)
        if fault:
            raise _not_findings(path, fault)
        return findings

    def to_bytes(self) -> bytes:
        """Return the content of the .parquet file that `save` would write."""
        buffer = io.BytesIO()
        self._write_parquet(buffer)
        return buffer.getvalue()

    @classmethod
    def from_bytes(cls, content: bytes) -> Findings:
        """Read back what `to_bytes` gave."""
        return _load_parquet(io.BytesIO(content))

    def _write_parquet(self, path: Path | BinaryIO) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        table = pa.Table.from_pandas(self.table, preserve_index=False)
        schema = described(table.schema, self.summary, self.rejects)
        pq.write_table(table.cast(schema), path, **written_as(schema))

    def _sheets(self) -> dict[str, pd.DataFrame]:
        about = [(key, json.dumps(value)) for key, value in self.summary.items()]
        return {
            "findings": writing.plain_numbers(self.table, leave=_OURS),
            "set aside": self.rejects,
            "assumptions": pd.DataFrame({"assumption": self.summary.get("assumptions", [])}),
            "summary": pd.DataFrame(about, columns=["key", "value"]),
        }


def described(schema: Any, summary: dict[str, Any], rejects: pd.DataFrame) -> Any:
    """Return an Arrow schema that carries the summary and the rows set aside."""
    metadata = dict(schema.metadata or {})
    metadata[_SUMMARY_KEY] = json.dumps(summary, allow_nan=False).encode()
    rejects = rejects.astype("str").where(rejects.notna(), None)
    metadata[_REJECTS_KEY] = rejects.to_json(orient="split", index=False).encode()
    return schema.with_metadata(metadata)


def written_as(schema: Any) -> dict[str, Any]:
    """Return how a Parquet file of findings is written.

    Columns have a dictionary of their values, all but those that hardly repeat; the least and the
    greatest are noted of numbers only: of sentences they tell nothing. Ranks are written plainly:
    those of a large round are filled in last.
    """
    import pyarrow as pa

    numbers = [each.name for each in schema if pa.types.is_floating(each.type)]
    return {
        "use_dictionary": [name for name in schema.names if name not in _HARDLY_REPEATING],
        "write_statistics": [name for name in numbers if name != "rank"],
        "compression": {name: "none" if name == "rank" else "snappy" for name in schema.names},
    }


def _not_findings(path: Path, found: str) -> UnreadableFile:
    return UnreadableFile(
        "A findings file (.parquet, .csv or .xlsx) was expected",
        found=found,
        where=str(path),
        do="make one with: survey analyze ROUND --out findings.parquet",
    )


def _load_parquet(path: Path | BinaryIO) -> Findings:
    import pyarrow.parquet as pq

    arrow = pq.read_table(path)
    metadata = arrow.schema.metadata or {}
    summary = json.loads(metadata.get(_SUMMARY_KEY, b"{}"))
    split = json.loads(metadata.get(_REJECTS_KEY, b'{"columns": [], "data": []}'))
    rejects = pd.DataFrame(split["data"], columns=split["columns"], dtype=object)
    return Findings(_kinds_given_back(arrow.to_pandas()), rejects, summary)


def _load_csv(path: Path) -> Findings:
    table = pd.read_csv(path, dtype="str", **_ONLY_BLANK_IS_MISSING)
    return Findings(_kinds_given_back(_as_written(table)), pd.DataFrame(), {})


def _load_xlsx(path: Path) -> Findings:
    table = _as_written(_sheet(path, "findings", dtype=object))
    table = writing.as_text_again(table, leave=_OURS)
    about = _sheet(path, "summary", dtype="str")
    summary = {str(k): json.loads(v) for k, v in zip(about["key"], about["value"], strict=True)}
    rejects = _as_written(_sheet(path, "set aside", dtype="str"))
    return Findings(_kinds_given_back(table), rejects, summary)


def _sheet(path: Path, name: str, *, dtype: Any) -> pd.DataFrame:
    return pd.read_excel(
        path, sheet_name=name, engine="calamine", dtype=dtype, **_ONLY_BLANK_IS_MISSING
    )


def _as_written(table: pd.DataFrame) -> pd.DataFrame:
    """Take off the apostrophes that keep text from starting a formula."""
    table.columns = pd.Index([as_written(str(name)) for name in table.columns])
    for name in table.columns:
        led = table[name].map(lambda v: isinstance(v, str) and v.startswith("'")).astype(bool)
        if led.any():
            table[name] = table[name].where(~led, table[name].map(as_written))
    return table


def _kinds_given_back(table: pd.DataFrame) -> pd.DataFrame:
    """Make numbers of number columns where all are, and text of the others that we name."""
    for column in (*INPUT_COLUMNS, *FINDING_COLUMNS):
        if column.name not in table.columns:
            continue
        values = table[column.name]
        if column.kind == "number":
            numbers = pd.to_numeric(values, errors="coerce").astype("float64")
            if (numbers.isna() == values.isna()).all():
                table[column.name] = numbers
        elif pd.api.types.is_numeric_dtype(values.dtype) or _holds_more_than_text(values):
            table[column.name] = values.astype(object).map(str, na_action="ignore").astype("str")
    return table


def _holds_more_than_text(values: pd.Series[Any]) -> bool:
    kind = pd.api.types.infer_dtype(values, skipna=True)
    return values.dtype == object and kind not in ("string", "empty")


def _fault_in(findings: Findings) -> str:
    """Return what keeps a file that was read from being findings, else ''."""
    table = findings.table
    missing = [name for name in _NEEDED if name not in table.columns]
    if missing:
        return f"no column {missing[0]!r}"
    for column in (*INPUT_COLUMNS, *FINDING_COLUMNS):
        if column.kind == "number" and column.name in table.columns:
            wrong = _no_number(table[column.name])
            if wrong:
                return f"{wrong} in the column {column.name!r}, which holds numbers"
    return _fault_in_summary(findings.summary)


def _no_number(values: pd.Series[Any]) -> str:
    if not pd.api.types.is_numeric_dtype(values.dtype):
        wrong = values.isna() != pd.to_numeric(values, errors="coerce").isna()
        return _shown(values[wrong].iloc[0]) if wrong.any() else "no numbers"
    endless = np.abs(values.to_numpy(dtype=float, na_value=np.nan)) > _BEYOND_ALL_READING
    return _shown(values[endless].iloc[0]) if endless.any() else ""


def _fault_in_summary(summary: Any) -> str:
    if summary == {}:
        return ""
    try:
        _Summary.model_validate(summary)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(part) for part in first["loc"])[:_LONGEST_SHOWN]
        return f"a summary whose {printable(place)!r} cannot be used ({first['msg']})"
    return ""


def _shown(value: Any) -> str:
    return repr(value if isinstance(value, str) else str(value))[:_LONGEST_SHOWN]


_LOADERS = {".parquet": _load_parquet, ".csv": _load_csv, ".xlsx": _load_xlsx}
