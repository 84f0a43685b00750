"""Layers: what may import what, and how long a module may be."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "survey"
MODULES = sorted(PACKAGE.rglob("*.py"))
LONGEST_MODULE = 300
LONGEST_PAGE = 150

# Upstream first. A module imports from its own layer's package or from layers before it.
LAYERS: tuple[tuple[str, ...], ...] = (
    ("errors", "paths"),
    ("columns", "site"),
    ("writing",),
    ("physics",),
    ("readings",),
    ("diagnosis",),
    ("losses",),
    ("plant",),
    ("findings", "summary"),
    ("pipeline",),
    ("streaming",),
    ("recordings", "rounds"),
    ("reports",),
    ("sharing",),
    ("dashboard", "commands", "cli"),
)
DEPTH = {name: depth for depth, names in enumerate(LAYERS) for name in names}
# Within one layer, only the settings know the nomenclature, and only the command line its parts.
SAME_LAYER = {("site", "columns"), ("cli", "commands"), ("cli", "dashboard"),
              ("commands", "dashboard")}
# The package itself holds the version and, loaded on first use, the public names.
PUBLIC_NAMES = {"__version__", "analyze", "read_round", "Findings", "Round", "Site", "SurveyError"}


def part_of(module: Path) -> str:
    """Return the layer's own name for a module: physics for survey/physics/sound.py."""
    return module.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports_of(module: Path) -> list[tuple[str, int]]:
    """Return the parts of survey that a module imports, lazily or not, with line numbers."""
    found: list[tuple[str, int]] = []
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: import by the full name"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found += [(name, node.lineno) for name in names]
    return [(name.split(".")[1], line) for name, line in found if name.startswith("survey.")]


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_imports_point_upstream(module: Path) -> None:
    mine = part_of(module)
    if mine == "__init__":
        return
    assert mine in DEPTH, f"{mine} has no layer: add it to LAYERS here and to DEVELOPERS.md"
    for other, line in imports_of(module):
        if other in PUBLIC_NAMES:
            # survey.__version__ is light; the other names would hide which layer is meant.
            assert other == "__version__", f"{module}:{line}: import {other} from its module"
            continue
        allowed = other == mine or DEPTH[other] < DEPTH[mine] or (mine, other) in SAME_LAYER
        assert allowed, f"{module}:{line}: {mine} may not import {other}"


def test_the_layers_in_the_developers_guide_are_these() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    listed = text.split("<!-- layers: a test reads this list -->")[1].split("<!-- end")[0]
    lines = re.findall(r"^\d+\. (.*)$", listed, flags=re.MULTILINE)
    assert len(lines) == len(LAYERS)
    for line, names in zip(lines, LAYERS, strict=True):
        assert [name for name in re.findall(r"`(\w+)`", line) if name in DEPTH] == list(names)


def test_a_forbidden_import_would_be_seen(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    module.write_text(
        "import survey.cli\n"
        "def late():\n"
        "    from survey import dashboard\n"
        "    from survey.sharing.links import share\n",
        encoding="utf-8",
    )
    assert [name for name, _ in imports_of(module)] == ["cli", "dashboard", "sharing"]


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_no_module_is_too_long(module: Path) -> None:
    lines = module.read_text(encoding="utf-8").splitlines()
    page = part_of(module) == "dashboard" and "def show() -> None:" in lines
    assert len(lines) <= (LONGEST_PAGE if page else LONGEST_MODULE)
