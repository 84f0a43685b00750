"""What survey runs on, followed to the end: no licence that binds users, none unknown."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
NOT_AT_RUN_TIME = {"test"}
FREE = re.compile(
    r"\b(MIT|BSD|0BSD|Apache|ISC|PSF|Python Software Foundation|Zlib|Unlicense|HPND|CC0|"
    r"CNRI|Mozilla Public License|MPL)\b", re.IGNORECASE,
)
BINDING = re.compile(r"\b(A?GPL|LGPL|GNU|General Public License|SSPL|Commons Clause|proprietary)\b",
                     re.IGNORECASE)
# LGPL, which does not bind those who only call it; in an extra that nobody need install.
IN_AN_EXTRA_ONLY = {"psycopg", "psycopg-binary"}


def extras() -> list[str]:
    """Return what the optional parts ask for, those of the tests aside."""
    optional = PROJECT.get("optional-dependencies", {})
    return [one for extra in optional.keys() - NOT_AT_RUN_TIME for one in optional[extra]]


def wanted(asked: list[str]) -> dict[str, str]:
    """Return the licence of every installed package that these need, by its name."""
    waiting = list(asked)
    found: dict[str, str] = {}
    while waiting:
        requirement = Requirement(waiting.pop())
        name = requirement.name.lower().replace("_", "-")
        if name in found or name == "survey":
            continue
        if not _needed(requirement, set()):
            continue
        try:
            package = metadata.distribution(requirement.name)
        except metadata.PackageNotFoundError:
            continue  # of an extra that is not installed here
        found[name] = licence_of(package.metadata)
        waiting += [
            needed for needed in package.requires or ()
            if _needed(Requirement(needed), requirement.extras)
        ]
    return found


def _needed(requirement: Requirement, chosen: set[str]) -> bool:
    marker = requirement.marker
    return marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *chosen))


def licence_of(about: metadata.PackageMetadata) -> str:
    """Return what a package says its licence is: expression, classifiers, or its first words."""
    said = [about.get("License-Expression") or ""]
    said += [line.rpartition("::")[2].strip() for line in about.get_all("Classifier") or ()
             if line.startswith("License ::")]
    text = " ".join((about.get("License") or "").split())[:60]
    return "; ".join(filter(None, said)) or text


LICENCES = wanted(PROJECT["dependencies"])
OPTIONAL = {name: said for name, said in wanted(extras()).items() if name not in LICENCES}


@pytest.mark.parametrize("name", sorted(LICENCES.keys() | OPTIONAL.keys()))
def test_every_package_at_run_time_may_be_used_freely(name: str) -> None:
    said = (OPTIONAL | LICENCES)[name]
    if name in IN_AN_EXTRA_ONLY:
        assert name not in LICENCES
        assert "LGPL" in said
        return
    assert FREE.search(said), f"{name}: its licence is not known to be free: {said!r}"
    # An "OR" offers a choice; anything else that binds does bind.
    assert not BINDING.search(said) or " OR " in said, f"{name}: {said!r}"


def test_the_walk_reached_what_everything_stands_on() -> None:
    assert {"numpy", "pandas", "streamlit", "markupsafe", "h11", "fsspec"} <= set(LICENCES)
    assert not {"iapws", "coolprop"} & set(LICENCES)
