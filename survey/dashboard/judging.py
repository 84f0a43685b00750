"""From an upload to findings: the same reading and judging as on the command line."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import survey
from survey.dashboard.wording import screen_words
from survey.errors import SurveyError
from survey.findings import Findings
from survey.pipeline import analyze
from survey.site import Site

_UNSAFE = re.compile(r"[^\w.-]+", re.ASCII)
SAMPLE_ROUND = "nursery_round.csv"
SAMPLE_SITE = "nursery_site.toml"


@dataclass(frozen=True)
class Upload:
    """A file as the browser gave it."""

    name: str
    content: bytes

    @property
    def safe_name(self) -> str:
        """The name with nothing left in it that means something in a path."""
        return _UNSAFE.sub("_", self.name)[-80:].lstrip(".") or "round"


@contextmanager
def on_disk(upload: Upload) -> Iterator[Path]:
    """Give the upload as a file for as long as the block runs.

    An error raised inside names the file as the person knows it, not where it lay.
    """
    with tempfile.TemporaryDirectory(prefix="survey-") as folder:
        path = Path(folder) / upload.safe_name
        path.write_bytes(upload.content)
        try:
            yield path
        except SurveyError as error:
            error.where = error.where.replace(str(path), upload.name).replace(folder, "")
            error.args = (error.paragraph(),)
            raise


def site_of(site_file: Upload | None, given: Mapping[str, Any]) -> Site:
    """Return the site: the file's settings, then what was typed on the screen; raises SiteError."""
    settings: dict[str, Any] = {}
    if site_file is not None:
        with on_disk(site_file) as path:
            settings = Site.from_toml(path).model_dump(exclude_unset=True)
    for key, value in given.items():
        if isinstance(value, Mapping):
            settings[key] = {**settings.get(key, {}), **value}
        else:
            settings[key] = value
    return Site.from_mapping(settings, where=screen_words.SITE_ON_THIS_PAGE)


def judge(upload: Upload, *, site: Site, header_map: Mapping[str, str]) -> Findings:
    """Read and judge an upload; raises SurveyError."""
    with on_disk(upload) as path:
        return analyze(path, site=site, header_map=header_map or None)


def sample() -> tuple[Upload, Upload]:
    """Return the sample round and its site, which come with the package."""
    folder = resources.files(survey) / "sample"
    its = [Upload(name, (folder / name).read_bytes()) for name in (SAMPLE_ROUND, SAMPLE_SITE)]
    return its[0], its[1]
