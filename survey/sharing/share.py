"""What the commands call: make a link, list the links, end one."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from survey.errors import ShareError
from survey.findings import Findings
from survey.sharing.addresses import base_url as address
from survey.sharing.addresses import page_url, warning_about
from survey.sharing.links import TOKEN_SHAPE, Link
from survey.sharing.store import LinkStore

_TOKEN_AT_END = re.compile(rf"(?:^|/)({TOKEN_SHAPE.pattern})/?$")


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
    base_url: str | None = None,
    store: LinkStore | None = None,
) -> SharedLink:
    """Freeze the owner's page and return a link to it.

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
    base_url
        What the link begins with; else SURVEY_BASE_URL, else this machine.
    store
        Where to keep it; None is the user's own store.

    Raises
    ------
    ShareError
        The days or the base address cannot be meant, or the store cannot be written.
    UsageError
        An area is not in the findings.
    """
    from survey.reports.page import page_policy, render_page
    from survey.reports.words import tidy

    base = address(base_url)
    page = render_page(findings, areas=areas, show_money=show_money).encode()
    with opened(store) as kept:
        token, link = kept.create(page, policy=page_policy(), label=tidy(label, 120), days=days)
    return SharedLink(page_url(base, token), link.number, link.expires_at, warning_about(base))


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
        return kept.revoke(_number(kept, str(number_or_url).strip()))


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
