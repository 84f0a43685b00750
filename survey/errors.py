"""Every error a user can meet, and the exit code each one carries.

::

    SurveyError             2  anything that stops a command; never raised itself
    ├── UsageError          2  a command or setting that cannot be meant
    ├── UnreadableFile      2  a file that cannot be read as what it should be
    ├── SiteError           2  a site file with a key or value that cannot be used
    ├── MapError            2  a header map that names no such header or column
    ├── NothingToJudge      1  the round was read, but no row in it could be judged
    ├── OutputError         2  a file that cannot be written
    ├── ShareError          2  a link that cannot be made, found or ended
    └── RoundsError         2  a store of rounds, or what is named of it, that cannot be used

A message is one short paragraph: what was expected, what was found, where, what to do.
"""

from __future__ import annotations

from typing import Any


class SurveyError(Exception):
    """The root: catch this to catch every error the package raises on purpose."""

    exit_code = 2

    def __init__(self, expected: str, *, found: str = "", where: str = "", do: str = "") -> None:
        self.expected = expected
        self.found = found
        self.where = where
        self.do = do
        super().__init__(self.paragraph())

    def paragraph(self) -> str:
        """Return the whole message as one paragraph of plain text."""
        parts = [self.expected.rstrip(".") + "."]
        if self.found:
            parts.append(f"Found: {self.found.rstrip('.')}.")
        if self.where:
            parts.append(f"Where: {self.where.rstrip('.')}.")
        if self.do:
            parts.append(f"What to do: {self.do.rstrip('.')}.")
        return " ".join(parts)


class UsageError(SurveyError):
    """A command or setting that cannot be meant."""


class UnreadableFile(SurveyError):  # noqa: N818  it names what the file is
    """A file that cannot be read as what it should be."""


class SiteError(SurveyError):
    """A site file with a key or value that cannot be used."""


class MapError(SurveyError):
    """A header map that names no such header or column."""


class NothingToJudge(SurveyError):  # noqa: N818  it names the outcome, as the exit code does
    """The round was read, but no row in it could be judged.

    ``findings`` holds what there is: no verdicts, every row set aside with its reason.
    """

    exit_code = 1

    def __init__(
        self,
        expected: str,
        *,
        found: str = "",
        where: str = "",
        do: str = "",
        findings: Any = None,
    ) -> None:
        super().__init__(expected, found=found, where=where, do=do)
        self.findings = findings


class OutputError(SurveyError):
    """A file that cannot be written."""


class ShareError(SurveyError):
    """A link that cannot be made, found or ended."""


class RoundsError(SurveyError):
    """A store of rounds, or a round, unit or note in it, that cannot be used."""
