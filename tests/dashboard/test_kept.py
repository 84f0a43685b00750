"""What outlives a session: the last round, header corrections, units; and what may not."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from survey import Findings
from survey.dashboard import kept, remembered
from survey.dashboard.headers import headers_of
from survey.dashboard.judging import Upload
from survey.errors import UsageError
from survey.reports.manner import Manner
from survey.sharing.home import home

from .conftest import Opened, button, go, title, unfold
from .test_walk import DOUBTFUL, give, taken_for


def test_a_reload_finds_the_round_again_on_the_page_one_was_on(open_app: Opened) -> None:
    before = open_app().button(key="sample").click().run()
    after = button(open_app("ranking.py"), "Open the last round")
    assert title(after) == "What to mend first"
    ours, theirs = (app.session_state["work"] for app in (before, after))
    assert theirs.findings.table.equals(ours.findings.table)
    assert theirs.upload == ours.upload
    assert theirs.site_file == ours.site_file


def test_what_was_typed_of_the_site_comes_back_with_the_round(open_app: Opened) -> None:
    app = unfold(go(open_app().button(key="sample").click().run(), "start.py"), "site")
    app.number_input(key="kept_site_price_per_mmbtu").set_value(16.0)
    app = button(app, "Judge again with these settings")
    cost = app.session_state["work"].findings.summary["annual_cost"]
    again = unfold(go(button(open_app("overview.py"), "Open the last round"), "start.py"), "site")
    assert again.number_input(key="kept_site_price_per_mmbtu").value == 16.0
    again = button(again, "Judge again with these settings")
    assert again.session_state["work"].findings.summary["annual_cost"] == pytest.approx(cost)


def ticked(app: AppTest) -> list[str]:
    return [text for text in (each.value for each in app.markdown) if "ticked" in text]


def test_the_work_list_comes_back_with_the_round_and_a_tick_writes_a_small_file(
    open_app: Opened,
) -> None:
    app = go(open_app().button(key="sample").click().run(), "ranking.py")
    before = (home() / "last_round.zip").stat()
    for tag in ("T-160", "V-050"):
        app = app.button(key=f"pick_{tag}").click().run()
    after = (home() / "last_round.zip").stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    small = home() / "last_round_list.json"
    assert small.stat().st_mode & 0o777 == 0o600
    assert small.stat().st_size < 200
    again = button(open_app("ranking.py"), "Open the last round")
    assert again.session_state["work"].picked == ["T-160", "V-050"]
    assert ticked(again) == ticked(app) != []
    assert "T-160 off my list" in [each.label.replace("\\", "") for each in again.button]
    again.button(key="empty_list").click().run()
    assert button(open_app("ranking.py"), "Open the last round").session_state["work"].picked == []


def test_the_work_list_stays_when_the_round_is_judged_again(open_app: Opened) -> None:
    app = go(open_app().button(key="sample").click().run(), "ranking.py")
    app = app.button(key="pick_T-160").click().run()
    app = unfold(go(app, "start.py"), "site")
    app.number_input(key="kept_site_price_per_mmbtu").set_value(16.0)
    button(app, "Judge again with these settings")
    again = button(open_app("ranking.py"), "Open the last round")
    assert again.session_state["work"].picked == ["T-160"]


def test_the_list_of_another_round_or_a_damaged_one_is_not_taken(findings: Findings) -> None:
    first = kept.keep(kept.KeptRound(findings, picked=["T-1"]))
    opened = kept.opened()
    assert opened is not None
    assert (opened.picked, opened.mark) == (["T-1"], first)
    second = kept.keep(kept.KeptRound(findings))
    kept.keep_list(first, ["T-2"])  # another window, still at the round before
    opened = kept.opened()
    assert opened is not None
    assert (opened.picked, opened.mark) == ([], second)
    kept.keep_list(second, ["T-3"])
    (home() / "last_round_list.json").write_text('{"mark": 3')
    opened = kept.opened()
    assert opened is not None
    assert opened.picked == []
    kept.forget()
    assert list(home().iterdir()) == []


def test_the_folder_is_this_users_alone_and_holds_one_last_round(findings: Findings) -> None:
    for name in ("a.csv", "b.csv"):
        kept.keep(kept.KeptRound(findings, Upload(name, b"tag\n")))
    assert home().stat().st_mode & 0o077 == 0
    [path] = home().iterdir()
    assert (path.name, path.stat().st_mode & 0o077) == ("last_round.zip", 0)
    about = kept.about()
    assert about is not None
    assert about.name == "b.csv"


def test_the_last_round_is_for_this_user_alone_from_its_first_byte(
    findings: Findings, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []
    write = Findings.to_bytes

    def looked_at(self: Findings) -> bytes:
        seen.extend(path.stat().st_mode & 0o777 for path in home().iterdir())
        return write(self)

    monkeypatch.setattr(Findings, "to_bytes", looked_at)
    before = os.umask(0)
    try:
        kept.keep(kept.KeptRound(findings))
    finally:
        os.umask(before)
    assert seen == [0o600]
    assert (home() / "last_round.zip").stat().st_mode & 0o777 == 0o600


def test_a_damaged_last_round_is_told_and_forgotten(open_app: Opened, findings: Findings) -> None:
    kept.keep(kept.KeptRound(findings))
    path = home() / "last_round.zip"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert kept.about() is None
    assert kept.opened() is None
    app = open_app("overview.py")
    assert not app.exception
    assert "Open the last round" not in [each.label for each in app.button]


def test_a_folder_that_cannot_be_written_stops_nobody(
    open_app: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "file" / "home"))
    app = open_app().button(key="sample").click().run()
    assert not app.exception
    assert title(app) == "Overview"


def test_corrections_are_remembered_for_the_same_headers(open_app: Opened) -> None:
    app = give(open_app(), "monday.csv", DOUBTFUL)
    box = next(box for box in app.selectbox if box.label == "This column holds")
    [wanted] = [option for option in box.options if option.startswith("inlet temp, °C")]
    app = box.select(wanted).run().button(key="judge").click().run()
    judged = app.session_state["work"].findings.table

    tuesday = give(open_app(), "tuesday.csv", DOUBTFUL)
    assert title(tuesday) == "Overview"
    assert tuesday.session_state["work"].findings.table["inlet_temp_f"].tolist() == (
        judged["inlet_temp_f"].tolist()
    )
    seen = go(tuesday, "understood.py")
    assert taken_for(seen, "Inlet Temp") == "inlet temp, °C (as you set it)"
    afresh = button(seen, "Read them afresh")
    assert taken_for(afresh, "Inlet Temp") == "inlet temp, °F (unit ASSUMED)"
    assert title(give(open_app(), "wednesday.csv", DOUBTFUL)) == "How your file was read"


def test_other_headers_or_another_units_row_are_asked_about_again() -> None:
    plain = headers_of(Upload("a.csv", DOUBTFUL))
    remembered.remember(plain, plain.matches)
    assert remembered.recalled(plain) is not None
    reordered = b"\n".join(b",".join(reversed(line.split(b","))) for line in DOUBTFUL.split(b"\n"))
    assert remembered.recalled(headers_of(Upload("b.csv", reordered))) is not None
    for other in (DOUBTFUL.replace(b"dB", b"Sound"), DOUBTFUL.replace(b"(barg)", b"(psig)")):
        assert remembered.recalled(headers_of(Upload("c.csv", other))) is None


def test_what_was_remembered_is_bounded_and_can_be_damaged() -> None:
    plain = headers_of(Upload("a.csv", DOUBTFUL))
    remembered.remember(plain, ())
    [path] = (home() / "headers").iterdir()
    path.write_bytes(b"\xff not toml")
    assert remembered.recalled(plain) is None
    for number in range(remembered.MOST_REMEMBERED):
        (home() / "headers" / f"{number}.toml").write_text("[columns]\n")
    remembered.remember(plain, ())
    assert len(list((home() / "headers").iterdir())) == remembered.MOST_REMEMBERED
    assert remembered.recalled(plain) == {}


def test_the_manner_of_figures_is_remembered_and_a_wrong_one_ignored() -> None:
    assert remembered.manner() == Manner()
    remembered.remember_manner(Manner("si", "de_DE"))
    assert remembered.manner() == Manner("si", "de_DE")
    with pytest.raises(UsageError):
        Manner("cgs")
    (home() / "figures.json").write_text('{"units": "cgs", "locale": "en"}')
    assert remembered.manner() == Manner()
