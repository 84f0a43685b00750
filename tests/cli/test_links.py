"""`share`, `shares`, `unshare` and `report`, from findings on disk."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.sharing.addresses import PORT

LINK = re.compile(r"^http://127\.0\.0\.1:8700/f/[\w-]{43}\n$")


def run(*arguments: str | Path) -> Result:
    """Run one command."""
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(autouse=True)
def _own_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("SURVEY_BASE_URL", raising=False)


def test_the_link_alone_goes_to_standard_output(findings_file: Path) -> None:
    done = run("share", findings_file, "--days", "3")
    assert done.exit_code == 0
    assert LINK.match(done.stdout)
    first, second = done.stderr.splitlines()
    assert re.fullmatch(
        r"Link 1 works until \d{4}-\d\d-\d\d \d\d:\d\d UTC\. It is shown this once only\. "
        r"To end it sooner: survey unshare 1", first,
    )
    assert second.startswith("This link opens on this machine only: nobody else can reach it.")


def test_a_public_address_needs_no_warning(findings_file: Path) -> None:
    done = run("share", findings_file, "--base-url", "https://findings.example.com/steam")
    assert done.stdout.startswith("https://findings.example.com/steam/f/")
    assert len(done.stderr.splitlines()) == 1


def test_links_are_listed_and_end(findings_file: Path) -> None:
    address = run("share", findings_file).stdout.strip()
    run("share", findings_file, "--label", "for the\x1b[31m board")
    listed = run("shares").stdout
    assert re.search(r"^ +2 .* open +for the\[31m board$", listed, re.MULTILINE)
    assert re.search(r"^ +1 .* open +Nursery$", listed, re.MULTILINE)
    assert address.rpartition("/")[2] not in listed
    ended = "Link 1 has ended. Whoever opens it now finds nothing.\n"
    assert run("unshare", address).stdout == ended
    assert run("unshare", "1").stdout == "Link 1 had ended already.\n"
    assert re.search(r"^ +1 .* ended +Nursery$", run("shares").stdout, re.MULTILINE)


def test_a_page_is_published_listed_and_taken_away(tmp_path: Path, findings_file: Path) -> None:
    shown = tmp_path / "shown"
    shown.mkdir()
    done = run("share", findings_file, "--to", shown, "--base-url", "https://pages.example.com")
    name = done.stdout.strip().removeprefix("https://pages.example.com/")
    assert (done.exit_code, re.fullmatch(r"[\w-]{43}\.html", name) is not None) == (0, True)
    assert done.stderr.splitlines()[1] == (
        "A folder cannot end a link by itself: after its day the page goes when the next share, "
        "shares or unshare command is run here. To be sure of the day, let a timer run: "
        "survey shares --end-expired"
    )
    assert run("shares").stdout.endswith(f"open      Nursery  (in {shown})\n")
    assert (run("shares", "--end-expired").stdout, (shown / name).exists()) == ("", True)
    assert run("unshare", "1").stdout == "Link 1 has ended. Whoever opens it now finds nothing.\n"
    assert not (shown / name).exists()
    assert run("unshare", "1").stdout == "Link 1 had ended already.\n"


def test_a_page_that_cannot_be_taken_away_is_said(tmp_path: Path, findings_file: Path) -> None:
    shown, moved = tmp_path / "shown", tmp_path / "moved"
    shown.mkdir()
    run("share", findings_file, "--to", shown)
    shown.rename(moved)
    done = run("unshare", "1")
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == (
        "survey: An ended link's page was expected to be gone from its folder. Found: it could "
        f"not be taken out. Where: {shown}. What to do: see that the folder can be reached and "
        "written, then: survey shares --end-expired.\n"
    )
    listed = run("shares")
    assert listed.stdout.endswith(f"ended     Nursery  (still in {shown}!)\n")
    assert "make the folder first" in listed.stderr
    assert run("shares", "--end-expired").exit_code == 2
    moved.rename(shown)
    said = "Link 1 has ended; its page was taken out of its folder.\n"
    assert run("shares", "--end-expired").stdout == said
    assert run("shares", "--end-expired").stdout == ""


def test_a_folder_that_is_not_there_makes_no_link(tmp_path: Path, findings_file: Path) -> None:
    done = run("share", findings_file, "--to", tmp_path / "none")
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith("survey: A folder or an object store for the page was expected.")
    assert run("shares").stdout.startswith("No links have been made.")


def test_no_links_yet() -> None:
    assert run("shares").stdout == "No links have been made. Make one with: survey share FINDINGS\n"


def test_a_number_that_is_no_link() -> None:
    done = run("unshare", "9")
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == (
        "survey: The number of a link was expected. Found: 9. "
        "What to do: see the numbers with: survey shares.\n"
    )


def test_an_area_that_is_not_there(findings_file: Path) -> None:
    done = run("share", findings_file, "--areas", "Moon")
    assert done.exit_code == 2
    assert done.stderr.startswith(
        "survey: Areas that are in the findings were expected. Found: Moon."
    )


def test_the_pages_port_is_the_one_in_the_links() -> None:
    option = next(o for o in main.commands["dashboard"].params if o.name == "pages_port")
    assert option.default == PORT


def test_a_report_goes_beside_its_findings(findings_file: Path) -> None:
    done = run("report", findings_file)
    place = findings_file.with_suffix(".html")
    assert (done.exit_code, done.stdout) == (0, f"Report saved to {place}\n")
    assert place.read_text(encoding="utf-8").lstrip().lower().startswith("<!doctype html")


def test_a_report_never_replaces_its_findings(tmp_path: Path, findings_file: Path) -> None:
    before = findings_file.read_bytes()
    done = run("report", findings_file, "--out", findings_file)
    assert done.exit_code == 2
    assert "Found: the findings file itself." in done.stderr
    assert findings_file.read_bytes() == before


def test_findings_that_are_not_there(tmp_path: Path) -> None:
    for command in ("report", "share"):
        done = run(command, tmp_path / "none.parquet")
        assert (done.exit_code, done.stdout) == (2, "")
        assert done.stderr.startswith(
            "survey: A findings file (.parquet, .csv or .xlsx) was expected. Found: "
        )
