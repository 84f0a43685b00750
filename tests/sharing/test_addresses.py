"""What links begin with, and what is said of who can reach them."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest

from survey.errors import ShareError
from survey.sharing.addresses import base_url, page_url, prefix_of, warning_about

TOKEN = "t" * 43


def test_the_setting_given_wins_then_the_environment_then_this_machine(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path))
    monkeypatch.delenv("SURVEY_BASE_URL", raising=False)
    assert base_url() == "http://127.0.0.1:8700"
    monkeypatch.setenv("SURVEY_BASE_URL", "https://findings.example.com/steam/")
    assert base_url() == "https://findings.example.com/steam"
    assert base_url("https://other.example.org") == "https://other.example.org"


def test_a_link_is_the_base_and_the_token() -> None:
    link = page_url("https://findings.example.com/steam", TOKEN)
    assert link == f"https://findings.example.com/steam/f/{TOKEN}"
    assert prefix_of("https://findings.example.com/steam") == "/steam"
    assert prefix_of("https://findings.example.com/steam/") == "/steam"
    assert prefix_of("https://findings.example.com/boxes_x_/") == "/boxes_x_"
    assert base_url("https://findings.example.com/boxes_x_/").endswith(".com/boxes_x_")
    assert prefix_of("https://findings.example.com") == prefix_of("https://a.example/") == ""


@pytest.mark.parametrize("bad", [
    "findings.example.com", "ftp://x.example.com", "https://", "https://me:pw@example.com",
    "https://example.com/?a=1", "https://example.com/#x", "javascript:alert(1)",
    "https://example.com/a b", "https://exämple.com", "https://example.com:99999",
    "https://[::1", "https://example.com/\x1b[31m", "https://example.com/\nX", "file:///etc",
])
def test_an_address_that_cannot_be_meant_is_refused_in_words(bad: str) -> None:
    with pytest.raises(ShareError, match=r"base address such as .* expected.*SURVEY_BASE_URL") as e:
        base_url(bad)
    assert "\x1b" not in str(e.value)
    assert "\n" not in str(e.value)


@pytest.mark.parametrize("base", [
    "http://127.0.0.1:8700", "http://localhost:8700", "https://127.9.9.9", "http://[::1]:8700",
    "http://pages.localhost", "http://0.0.0.0:8700", "http://[::ffff:127.0.0.1]",
])
def test_loopback_is_said_to_be_this_machine_only(base: str) -> None:
    said = warning_about(base_url(base))
    assert said.startswith("This link opens on this machine only: nobody else can reach it.")
    assert "e-mail the page" in said
    assert "--base-url" in said


@pytest.mark.parametrize("base", [
    "http://192.168.1.20:8700", "https://10.0.0.4", "http://172.16.4.4", "http://169.254.3.3",
    "http://[fe80::1]", "http://[fd00::5]", "http://van-laptop:8700", "http://van-laptop.local",
    "http://pages.internal", "http://100.64.0.9",
])
def test_a_private_address_is_said_to_be_inside_only(base: str) -> None:
    said = warning_about(base_url(base))
    assert said.startswith("This link opens inside this network only: nobody outside can reach it.")
    assert "e-mail the page" in said


def test_a_public_address_without_tls_is_said_to_be_open_to_listeners() -> None:
    assert "not encrypted" in warning_about("http://findings.example.com")
    assert "not encrypted" in warning_about("http://8.8.8.8")


@pytest.mark.parametrize("base", ["https://findings.example.com/steam", "https://8.8.8.8"])
def test_a_public_address_with_tls_needs_no_warning(base: str) -> None:
    assert warning_about(base_url(base)) == ""


def test_a_port_of_its_own_is_kept_and_nought_is_none() -> None:
    assert base_url("http://findings.example.com:1/a") == "http://findings.example.com:1/a"
    with pytest.raises(ShareError):
        base_url("http://findings.example.com:0")


@pytest.mark.parametrize("base", ["http://localhost.:8700", "http://LOCALHOST", "http://127.0.0.1"])
def test_a_name_written_in_full_is_the_same_name(base: str) -> None:
    assert warning_about(base).startswith("This link opens on this machine only")


@pytest.mark.parametrize("ending", ["lan", "home.arpa", "test", "invalid", "internal", "local"])
def test_names_that_no_public_server_knows(ending: str) -> None:
    assert warning_about(f"https://pages.{ending}.").startswith("This link opens inside this")
    assert warning_about(f"https://pages.{ending}.example.com") == ""


def test_an_address_too_long_is_told_in_part() -> None:
    with pytest.raises(ShareError) as error:
        base_url("https://" + "x" * 300 + "?")
    assert "x" * 72 in str(error.value)
    assert "x" * 73 not in str(error.value)


def test_an_address_on_one_wire_of_this_machine() -> None:
    assert warning_about("http://[fe80::1%eth0]:8700").startswith("This link opens inside this")


def said_to_answer(home: Path, address: str, process: int) -> None:
    (home / "pages.json").write_text(json.dumps({"address": address, "process": process}))


def test_a_running_dashboards_pages_give_the_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path))
    monkeypatch.delenv("SURVEY_BASE_URL", raising=False)
    said_to_answer(tmp_path, "http://127.0.0.1:9012/", os.getpid())
    assert base_url() == "http://127.0.0.1:9012"
    assert base_url("https://findings.example.com") == "https://findings.example.com"
    monkeypatch.setenv("SURVEY_BASE_URL", "https://owner.example.com")
    assert base_url() == "https://owner.example.com"


@pytest.mark.parametrize("said", ["", "[]", '{"address": 3}', '{"process": 1e999}', "gone"])
def test_word_of_a_dashboard_that_is_gone_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: str
) -> None:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path))
    monkeypatch.delenv("SURVEY_BASE_URL", raising=False)
    if said == "gone":
        ended = subprocess.Popen(["true"])
        ended.wait()
        said_to_answer(tmp_path, "http://127.0.0.1:9012/", ended.pid)
    else:
        (tmp_path / "pages.json").write_text(said)
    assert base_url() == "http://127.0.0.1:8700"
