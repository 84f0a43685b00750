"""What the commands call: make a link, list the links, end one."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from survey.errors import ShareError
from survey.findings import Findings
from survey.sharing.addresses import base_url as address
from survey.sharing.addresses import page_url, warning_about
from survey.sharing.folders import ENDING, Folder
from survey.sharing.links import TOKEN_SHAPE, Link
from survey.sharing.store import LinkStore

if TYPE_CHECKING:
    from survey.rounds.known import Known

_TOKEN_AT_END = re.compile(rf"(?:^|/)({TOKEN_SHAPE.pattern})(?:\.html|/)?$")

NO_ADDRESS = (
    "This is where the page lies, as this machine names it. The owner needs the address by which "
    "a web server shows that folder: give it with --base-url."
)


@dataclass(frozen=True)
class SharedLink:
    """A link just made. Its address is shown once and kept nowhere."""

    url: str
    number: int
    expires_at: datetime
    warning: str


def share(
    findings: Findings,
    *,
    days: int = 30,
    label: str = "",
    areas: Sequence[str] | None = None,
    show_money: bool = True,
    before: Findings | None = None,
    known: Known | None = None,
    units: str = "us",
    locale: str = "en",
    base_url: str | None = None,
    to: str | None = None,
    store: LinkStore | None = None,
) -> SharedLink:
    """Freeze the owner's page and return a link to it.

    Pages that have ended are taken out of their folders on the way.

    Parameters
    ----------
    findings
        The judged round. Later changes to it do not reach the page.
    days
        How long the link lasts, 1 to 3650.
    label
        What the technician calls the link in the list; not shown to the owner.
    areas
        Show only these areas; None shows all.
    show_money
        False leaves out every price and cost.
    before
        An earlier round to hold it against; None shows this one alone.
    known
        What a store knows of the two rounds, as `rounds.known` tells it.
    units, locale
        As `reports.manner.using` takes them.
    base_url
        What the link begins with; else SURVEY_BASE_URL, else this machine. With ``to``: the
        address by which that folder is reached; else the link is the folder's own.
    to
        Publish the page to this folder or object store; None keeps it for the pages' server.
    store
        Where to keep it; None is the user's own store.

    Raises
    ------
    ShareError
        The days or the base address cannot be meant, or the store cannot be written.
    UsageError
        An area is not in the findings.
    """
    from survey.reports.manner import using
    from survey.reports.page import page_policy, render_page
    from survey.reports.words import tidy

    with using(units=units, locale=locale):
        page = render_page(
            findings, areas=areas, show_money=show_money, before=before, known=known
        ).encode()
    told: dict[str, Any] = {"policy": page_policy(), "label": tidy(label, 120),
                            "days": days}
    with opened(store) as kept:
        take_away_ended(store=kept)
        if to is not None:
            return _published(kept, Folder(to), page, base_url, told)
        base = address(base_url)
        token, link = kept.create(page, **told)
    return SharedLink(page_url(base, token), link.number, link.expires_at, warning_about(base))


def _published(
    store: LinkStore, folder: Folder, page: bytes, base_url: str | None, told: dict[str, Any]
) -> SharedLink:
    base = address(base_url) if base_url else None
    # Written down first: a page that was published and forgotten could not be taken away.
    token, link = store.create(page, folder=folder.place, **told)
    try:
        folder.publish(token, page)
    except BaseException:
        store.revoke(link.number)
        take_away_ended(store=store)
        raise
    if base is None:
        return SharedLink(folder.address_of(token), link.number, link.expires_at, NO_ADDRESS)
    url = f"{base}/{token}{ENDING}"
    return SharedLink(url, link.number, link.expires_at, warning_about(base))


def take_away_ended(*, store: LinkStore | None = None) -> tuple[list[int], list[ShareError]]:
    """Take every ended page out of the folder that it was published to.

    Returns the numbers of the links whose pages are gone now, and what stood in the way of the
    others; those are tried again next time. Raises ShareError where the store cannot be opened.
    """
    gone: list[int] = []
    problems: list[ShareError] = []
    with opened(store) as kept:
        for number, place, kept_hash in kept.to_take_away():
            try:
                Folder(place).take_away(kept_hash)
            except ShareError as error:
                problems.append(error)
                continue
            kept.took_away(number)
            gone.append(number)
    return gone, problems


def list_links(*, store: LinkStore | None = None) -> list[Link]:
    """Return every link made by this user, the newest first; raises ShareError."""
    with opened(store) as kept:
        return kept.links()


def unshare(number_or_url: int | str, *, store: LinkStore | None = None) -> Link:
    """End a link at once and erase its page; return how it then stands.

    Parameters
    ----------
    number_or_url
        The link's number, or the whole link.
    store
        Where it is kept; None is the user's own store.

    Raises
    ------
    ShareError
        It is neither a number nor a link of this store.
    """
    with opened(store) as kept:
        number = kept.revoke(_number(kept, str(number_or_url).strip())).number
        take_away_ended(store=kept)
        return kept.revoke(number)  # as it stands now


@contextlib.contextmanager
def opened(store: LinkStore | None) -> Iterator[LinkStore]:
    """Give the store as it is, or the user's own, opened for this while."""
    if store is not None:
        yield store
        return
    with LinkStore() as own:
        yield own


def _number(store: LinkStore, said: str) -> int:
    if said.isascii() and said.isdecimal() and len(said) < 15:
        return int(said)
    match = _TOKEN_AT_END.search(said)
    number = store.number_of(match[1]) if match else None
    if number is None:
        # What was given may be a live link for another store: it is not repeated.
        raise ShareError(
            "The number of a link, or a link made here, was expected",
            found="neither of the two",
            do="see the numbers with: survey shares",
        )
    return number
