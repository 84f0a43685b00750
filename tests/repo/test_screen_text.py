"""The text of the screens stands in one place: no other module of theirs holds words to read."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCREENS = ROOT / "survey" / "dashboard"
WORDING = sorted((SCREENS / "wording").glob("*_words.py"))
MODULES = sorted(path for path in SCREENS.rglob("*.py") if path.parent.name != "wording")

# Literals that look like words to read and are none, each with the reason it may stay.
NOT_READ_BY_PEOPLE = {
    "headers.py": {
        "unit assumed", "kept as it is",  # values of HeaderMatch.how
        "header map",  # looked for in a note of the reader
    },
    "corrections.py": {"set by map"},  # a value of HeaderMatch.how
    "other_readings.py": {"had it been"},  # a column's name
    "say.py": {" many"},  # a CSS class
    "launch.py": {  # a program
        "import sys; from survey.sharing import serve_pages; "
        "serve_pages(host=sys.argv[1], port=int(sys.argv[2]))",
    },
    "state.py": {"work list and filters could not be kept for next time"},  # a log's line
    "flow.py": {"not foreseen", "the round could not be kept for next time"},  # a log's lines
    "served.py": {  # values of HTTP headers
        "default-src 'none'; script-src 'self' 'unsafe-inline' 'wasm-unsafe-eval'; "
        "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
        "connect-src 'self'; worker-src 'self' blob:; manifest-src 'self'; base-uri 'none'; "
        "form-action 'self'; frame-src 'self'; frame-ancestors 'none'",
        "noindex, nofollow",
        "camera=(), geolocation=(), microphone=()",
    },
}  # fmt: skip

MARKUP = re.compile(r"<style>.*?</style>|<[^<>]*>", re.DOTALL)
LETTERS = r"[^\W\d_]{2,}"
WORDS = re.compile(rf"{LETTERS}[,.:;]?\s|\s{LETTERS}|^\W*[^\W\d_a-z][a-z]+\b")
"""A word beside white space, or a word with a capital: 'of the', ' a year', 'Area'."""

# What draws a text in its first argument, and arguments that are drawn wherever they stand.
DRAWS = {
    "title", "header", "subheader", "markdown", "text", "caption", "info", "success", "warning",
    "error", "metric", "button", "download_button", "form_submit_button", "selectbox",
    "multiselect", "radio", "toggle", "text_input", "number_input", "date_input", "day_input",
    "file_uploader", "segmented_control", "expander", "folded", "popover", "spinner", "onward",
    "paper", "one", "figure", "UsageError", "SurveyError", "NumberColumn", "TextColumn",
}  # fmt: skip
DRAWN_ARGUMENTS = {"label", "placeholder", "help", "page_title", "title", "found", "where", "do"}


def docstrings(tree: ast.Module) -> set[ast.AST]:
    """Return the strings that are statements of their own: what is written for programmers."""
    return {node.value for node in ast.walk(tree) if isinstance(node, ast.Expr)}


def drawn(call: ast.Call) -> Iterator[ast.expr]:
    """Yield the arguments of a call that people read, whatever is in them."""
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    if name in DRAWS:
        yield from call.args[:1]
    if name == "counted":
        yield from call.args[1:]
    yield from (each.value for each in call.keywords if each.arg in DRAWN_ARGUMENTS)


def words_to_read(source: str) -> list[tuple[int, str]]:
    """Return the literals of a module that people read, with their lines.

    An f-string with a space in it is one: its parts could not be put in another order.
    """
    tree = ast.parse(source)
    found: list[tuple[int, str]] = []
    inside = docstrings(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [part for part in node.values if isinstance(part, ast.Constant)]
            inside.update(parts)
            text = "{}".join(str(part.value) for part in parts)
            bare = MARKUP.sub("", text)
            if " " in bare or WORDS.search(bare):
                found.append((node.lineno, text))
        elif isinstance(node, ast.Call):
            for argument in drawn(node):
                if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                    inside.add(argument)
                    if re.search(LETTERS, argument.value):
                        found.append((argument.lineno, argument.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in inside:
            pieces = MARKUP.sub("\n", node.value).split("\n")
            if any(WORDS.search(piece) for piece in pieces):
                found.append((node.lineno, node.value))
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(SCREENS)))
def test_words_to_read_stand_with_the_wording_alone(module: Path) -> None:
    allowed = NOT_READ_BY_PEOPLE.get(module.name, set())
    found = words_to_read(module.read_text(encoding="utf-8"))
    assert [each for each in found if each[1] not in allowed] == []
    assert allowed <= {text for _, text in found}, "an exception that is needed no more"


@pytest.mark.parametrize("line", [
    'st.markdown("Give a round of readings.")',
    'st.title("survey")',
    'st.selectbox(name, choices, placeholder="all")',
    'heads = {"area": "Area"}',
    'label = f"{tag} to my list"',
    'said = f"{day} {title}"',
    'cost = "Costs about " + money',
    'said = money + " a year"',
    'words.counted(3, "unit")',
    'CARD = Markup("<p>{}</p><summary>Why</summary>")',
    'raise SurveyError(said, found="none")',
    'say("Ctrl-C stops both.")',
    'ends = "10–90 % range"',
])  # fmt: skip
def test_words_left_behind_would_be_seen(line: str) -> None:
    assert words_to_read(line)


@pytest.mark.parametrize("line", [
    '"""What a module is for."""',
    'key = f"kept_site_{name}"',
    'st.markdown(opening_words.START_INTRO)',
    'card = Markup(\'<p class="place small">{place}</p>\')',
    'table["annual_cost"]',
    'st.switch_page("unit.py")',
    'said = ", ".join(parts)',
])  # fmt: skip
def test_codes_are_not_taken_for_words(line: str) -> None:
    assert not words_to_read(line)


def texts_of(module: Path) -> dict[str, list[str]]:
    """Return the texts of a wording module by name, a dictionary's or a tuple's in a list.

    Anything else in the module is an error: there is nothing to work out in wording.
    """
    found: dict[str, list[str]] = {}
    for node in ast.parse(module.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Expr | ast.ImportFrom):
            assert ast.unparse(node).startswith(("'", '"', "from __future__"))
            continue
        assert isinstance(node, ast.Assign), f"{module.name}:{node.lineno}: constants only"
        value = ast.literal_eval(node.value)
        several = value.values() if isinstance(value, dict) else value
        texts = [value] if isinstance(value, str) else list(several)
        assert all(isinstance(text, str) and text for text in texts)
        found[ast.unparse(node.targets[0])] = texts
    return found


def fields_of(text: str) -> set[str]:
    """Return the fields of a template; '' stands for one without a name."""
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("module", WORDING, ids=lambda path: path.stem)
def test_wording_is_constants_whose_fields_have_names(module: Path) -> None:
    texts = texts_of(module)
    assert texts
    for name, each in texts.items():
        for text in each:
            assert all(field.isidentifier() for field in fields_of(text)), f"{name}: {text}"


def test_every_text_is_shown_and_every_field_filled_in() -> None:
    wording = {path.stem: texts_of(path) for path in WORDING}
    used, filled = set(), []
    for module in MODULES:
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                used.add((node.value.id, node.attr))
            if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "format":
                of = ast.unparse(node.func).removesuffix(".format").partition(".")
                filled.append((of[0], of[2], {each.arg for each in node.keywords}))
    every = {(module, name) for module, texts in wording.items() for name in texts}
    assert every <= used, f"shown nowhere: {sorted(every - used)}"
    checked = 0
    for module, name, given in filled:
        if module in wording:
            assert [fields_of(text) for text in wording[module][name]] == [given], name
            checked += 1
    assert checked > 40
