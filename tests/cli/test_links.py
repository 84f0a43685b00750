"""`share`, `shares`, `unshare` and `report`, from findings on disk."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from survey.cli import main
from survey.commands import links
from survey.errors import OutputError
from survey.sharing import list_links
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


def run_into(redirected: str, *arguments: str | Path) -> tuple[int, str, str]:
    """Return exit code, standard output and standard error of a run with streams redirected."""
    done = subprocess.run(
        ["bash", "-c", f'"$0" -m survey.cli "$@" {redirected}', sys.executable, *arguments],
        capture_output=True, text=True, check=False,
        env=os.environ | {"PYTHONPATH": ":".join(sys.path)},
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(("redirected", "found"), [
    pytest.param(">/dev/full", "No space left on device", marks=pytest.mark.skipif(
        not Path("/dev/full").exists(), reason="this system has no such device")),
    ("| true; exit ${PIPESTATUS[0]}", "Broken pipe"),
])
def test_a_link_that_cannot_be_shown_is_ended_again(
    tmp_path: Path, findings_file: Path, redirected: str, found: str
) -> None:
    shown = tmp_path / "shown"
    shown.mkdir()
    assert run_into(redirected, "share", findings_file, "--to", shown) == (
        2, "",
        f"survey: Standard output that shows the link was expected. Found: {found}; link 1 was "
        "ended again. What to do: let it be printed to a terminal, a file or a program that reads "
        "it, and share again.\n",
    )
    assert [path.name for path in shown.iterdir()] == ["index.html"]
    assert [link.standing for link in list_links()] == ["revoked"]


def test_no_link_is_made_where_nobody_can_see_it(findings_file: Path) -> None:
    code, _, err = run_into(">&-", "share", findings_file)
    assert (code, list_links()) == (2, [])
    assert "Found: standard output is closed; no link was made." in err


def test_a_page_that_stays_though_nobody_saw_its_link_is_said(
    tmp_path: Path, findings_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = tmp_path / "shown"
    shown.mkdir()

    def lost(*_: object, **__: object) -> None:
        shown.rename(tmp_path / "pulled out")
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(links.click, "echo", lost)
    with pytest.raises(OutputError, match=f"ended again, but its page is still in {shown}"):
        links.make(str(findings_file), days=3, label=None, areas=(), show_money=True, before=None,
                   units="us", locale="en", base_url=None, to=str(shown))


def test_a_link_that_was_shown_stands_though_its_notes_were_not(findings_file: Path) -> None:
    code, out, _ = run_into("2>/dev/full", "share", findings_file)
    assert (code, LINK.match(out) is not None) == (0, True)
    assert [link.standing for link in list_links()] == ["open"]


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
    assert "which is the findings file itself." in done.stderr
    assert findings_file.read_bytes() == before


def test_findings_that_are_not_there(tmp_path: Path) -> None:
    for command in ("report", "share"):
        done = run(command, tmp_path / "none.parquet")
        assert (done.exit_code, done.stdout) == (2, "")
        assert done.stderr.startswith(
            "survey: A findings file (.parquet, .csv or .xlsx) was expected. Found: "
        )
