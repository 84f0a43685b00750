"""What the commands call: a link made, listed and ended, with the real page in it."""

from __future__ import annotations

from pathlib import Path

import pytest
from reports.build import findings

from sharing.conftest import Caller, HandClock
from survey.errors import ShareError, UsageError
from survey.sharing import LinkStore, list_links, share, unshare
from survey.sharing.pages import owner_app

BASE = "https://findings.example.com/steam"


@pytest.fixture
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SURVEY_HOME", str(tmp_path / "own"))
    monkeypatch.delenv("SURVEY_BASE_URL", raising=False)
    return tmp_path / "own"


def opened(store: LinkStore, url: str) -> str:
    assert url.startswith(f"{BASE}/f/")
    got = Caller(owner_app(store))("GET", url.removeprefix(BASE))
    return got.body.decode() if got.status == 200 else ""


def test_share_show_end(store: LinkStore) -> None:
    link = share(findings(), days=7, label="owner", base_url=BASE, store=store)
    assert link.warning == ""
    page = opened(store, link.url)
    assert "The Nursery" in page
    assert "USD 3,120" in page
    listed = list_links(store=store)
    assert [(one.number, one.label, one.standing) for one in listed] == [(1, "owner", "open")]
    assert listed[0].expires_at == link.expires_at
    assert unshare(link.number, store=store).standing == "revoked"
    assert opened(store, link.url) == ""


def test_the_page_holds_its_own_policy_and_the_server_sends_it(store: LinkStore) -> None:
    link = share(findings(), base_url=BASE, store=store)
    got = Caller(owner_app(store))("GET", link.url.removeprefix(BASE))
    policy = got.headers["content-security-policy"]
    assert policy.endswith("; frame-ancestors 'none'")
    inside = policy.removesuffix("; frame-ancestors 'none'").replace("'", "&#39;")
    assert inside in got.body.decode()


def test_the_page_is_frozen(store: LinkStore) -> None:
    judged = findings()
    link = share(judged, base_url=BASE, store=store)
    before = opened(store, link.url)
    judged.table.loc[0, "tag"] = "CHANGED"
    assert opened(store, link.url) == before


def test_only_what_was_chosen_is_in_the_page(store: LinkStore) -> None:
    link = share(findings(), areas=["Laundry"], show_money=False, base_url=BASE, store=store)
    page = opened(store, link.url)
    assert "Ironer" in page
    assert "Glasshouse" not in page
    assert "USD" not in page


@pytest.mark.parametrize("end", ["/", "", "  "])
def test_a_link_can_be_ended_by_itself(store: LinkStore, end: str) -> None:
    first = share(findings(), base_url=BASE, store=store)
    second = share(findings(), base_url=BASE, store=store)
    assert unshare(second.url + end, store=store).number == second.number
    assert opened(store, first.url)
    assert not opened(store, second.url)


@pytest.mark.parametrize("said", ["", "x", "-1", "1e3", "9" * 40, "²", "https://a.example/f/short"])
def test_what_is_no_link_is_refused_in_words(store: LinkStore, said: str) -> None:
    share(findings(), base_url=BASE, store=store)
    with pytest.raises(ShareError, match="survey shares"):
        unshare(said, store=store)
    assert [link.standing for link in list_links(store=store)] == ["open"]


def test_an_error_never_repeats_a_link(store: LinkStore, tmp_path: Path) -> None:
    with LinkStore(tmp_path / "other.sqlite") as other:
        link = share(findings(), base_url=BASE, store=other)
    token = link.url.rsplit("/", 1)[1]
    with pytest.raises(ShareError) as error:
        unshare(link.url, store=store)
    assert token not in str(error.value)


def test_no_link_is_made_of_an_area_that_is_not_there(store: LinkStore) -> None:
    with pytest.raises(UsageError, match=r"Found: Attic\. What to do: choose from: Glasshouse, La"):
        share(findings(), areas=["Attic"], base_url=BASE, store=store)
    assert list_links(store=store) == []


def test_the_users_own_store_is_used_where_none_is_given(own_home: Path) -> None:
    link = share(findings())
    assert link.url.startswith("http://127.0.0.1:8700/f/")
    assert link.warning.startswith("This link opens on this machine only")
    assert [one.number for one in list_links()] == [link.number]
    assert unshare(link.url).standing == "revoked"
    assert (own_home / "links.sqlite").is_file()


def test_a_label_cannot_disguise_itself(store: LinkStore) -> None:
    share(findings(), label="ow\x1b[31mner\u202e" + "x" * 9000, base_url=BASE, store=store)
    label = list_links(store=store)[0].label
    assert label.startswith("ow[31mner")
    assert len(label) <= 120
    assert label.isprintable()


def test_days_run_by_the_stores_own_clock(store: LinkStore, clock: HandClock) -> None:
    link = share(findings(), days=1, base_url=BASE, store=store)
    clock.go(hours=23)
    assert opened(store, link.url)
    clock.go(hours=1)
    assert not opened(store, link.url)
