"""Which unit may be which: proposals with their reasons, never carried out from here.

Two kinds. A unit that was not read any more may be one that is read for the first time, under a tag
that was renamed or misspelt. And a unit whose tag stayed while its place changed may have moved, or
may be another device that got the tag.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

_PARTS = re.compile(r"\d+|[^\W\d_]+")
LONG_TAG = 6
"""From this many letters and figures on, two slips of the pen are allowed for; below it, one."""
# How much each sign counts, 1 is certain: common practice, no source. They only order a list.
_SAME_BUT_FOR_SPELLING, _ONE_SLIP, _TWO_SLIPS, _ONLY_ONE_HERE = 0.90, 0.60, 0.45, 0.50
_SAME_PLACE_OR_FITTING = 0.03
_SLIP_WORDS = {1: (_ONE_SLIP, "one letter or figure"), 2: (_TWO_SLIPS, "two letters or figures")}
LEAST_LIKENESS = 0.5
_AT_ONCE = 500
"""How many tags are compared with all others at once: it bounds the memory, and nothing else."""


@dataclass(frozen=True)
class Seen:
    """A unit as one round saw it; text is '' and numbers are None where not known."""

    unit: int
    tag: str
    device: str = "trap"
    equipment: str = ""
    area: str = ""
    trap_type: str = ""
    bore_in: float | None = None


@dataclass(frozen=True)
class Proposal:
    """A question to the user.

    Parameters
    ----------
    kind
        'renamed': are ``earlier`` and ``later`` one unit? 'moved': has the unit ``earlier``
        (which is ``later``) moved, in the round ``moved_in``, or is it another from then on?
    likeness
        0 to 1, to put the likely ones first; not a probability.
    reasons
        Why it is asked, in words.
    """

    kind: str
    earlier: int
    later: int
    earlier_tag: str
    later_tag: str
    likeness: float
    reasons: tuple[str, ...]
    moved_in: int = 0

    @property
    def key(self) -> tuple[int, int, int]:
        """What tells one question from another."""
        return (self.earlier, self.later, self.moved_in)


def tidied(text: str) -> str:
    """Return a tag as it is compared: no case, spaces, punctuation or leading zeros."""
    parts = _PARTS.findall(text.casefold())
    return "".join(part.lstrip("0") or "0" if part.isdigit() else part for part in parts)


def renamed(
    gone: Sequence[Seen], come: Sequence[Seen], *, refused: Collection[tuple[int, int]] = ()
) -> list[Proposal]:
    """Propose which units that were not read any more are which that are new, the likeliest first.

    Each unit stands in one proposal at the most. The order of either list changes nothing.

    Parameters
    ----------
    refused
        Pairs, the earlier unit and the later, that are not to be proposed.
    """
    best: dict[tuple[int, int], Proposal] = {}
    for proposal in (*_spelt(gone, come), *_slips(gone, come), *_alone(gone, come)):
        pair = (proposal.earlier, proposal.later)
        if pair in refused:
            continue
        if pair not in best or proposal.likeness > best[pair].likeness:
            best[pair] = proposal
    chosen: list[Proposal] = []
    used: set[tuple[str, int]] = set()
    for one in sorted(best.values(), key=lambda p: (-p.likeness, p.earlier, p.later)):
        ends = {("gone", one.earlier), ("come", one.later)}
        if one.likeness >= LEAST_LIKENESS and not ends & used:
            used |= ends
            chosen.append(one)
    return chosen


def moved(before: Seen, after: Seen, round_number: int) -> Proposal | None:
    """Ask about a unit whose tag stayed and whose place did not; None where its place stayed."""
    places = [("equipment", before.equipment, after.equipment), ("area", before.area, after.area)]
    known = [(name, old, new) for name, old, new in places if old and new]
    if not known or any(tidied(old) == tidied(new) for _, old, new in known):
        return None
    reasons = tuple(f"its {name} was {old} and is now {new}" for name, old, new in known)
    return Proposal(
        "moved", before.unit, after.unit, before.tag, after.tag, 0.5, reasons, round_number
    )


def _spelt(gone: Iterable[Seen], come: Iterable[Seen]) -> Iterator[Proposal]:
    by_tag: dict[tuple[str, str], list[Seen]] = defaultdict(list)
    for old in gone:
        by_tag[tidied(old.tag), old.device].append(old)
    for new in come:
        for old in by_tag.get((tidied(new.tag), new.device), ()):
            if old.tag == new.tag:
                yield _proposal(old, new, _SAME_BUT_FOR_SPELLING, "the tag is the same")
            else:
                yield _proposal(
                    old, new, _SAME_BUT_FOR_SPELLING,
                    "the tag is the same but for case, spaces, signs or leading zeros",
                )  # fmt: skip


def _slips(gone: Iterable[Seen], come: Iterable[Seen]) -> Iterator[Proposal]:
    """Tags that a slip or two of the pen make the same, for devices of one kind in one place."""
    from rapidfuzz.distance import OSA
    from rapidfuzz.process import cdist

    for olds, news in _together(gone, come):
        others = [tidied(new.tag) for new in news]
        for start in range(0, len(olds), _AT_ONCE):
            some = olds[start : start + _AT_ONCE]
            tags = [tidied(old.tag) for old in some]
            slips = cdist(tags, others, scorer=OSA.distance, score_cutoff=2)
            for i, j in zip(*((slips > 0) & (slips <= 2)).nonzero(), strict=True):
                allowed = 2 if min(len(tags[i]), len(others[j])) >= LONG_TAG else 1
                if (count := int(slips[i, j])) <= allowed:
                    likeness, what = _SLIP_WORDS[count]
                    yield _proposal(some[i], news[j], likeness, f"the tags differ by {what}")


def _together(
    gone: Iterable[Seen], come: Iterable[Seen]
) -> Iterator[tuple[list[Seen], list[Seen]]]:
    """Group units by what they serve, and by area and kind; nothing else is worth comparing."""
    groups: dict[tuple[str, ...], tuple[list[Seen], list[Seen]]] = defaultdict(lambda: ([], []))
    for place, some in enumerate((gone, come)):
        for one in some:
            if one.equipment:
                groups["equipment", tidied(one.equipment), one.device][place].append(one)
            if one.area:
                key = ("area", tidied(one.area), one.device, one.trap_type)
                groups[key][place].append(one)
    return (pair for _, pair in sorted(groups.items()) if pair[0] and pair[1])


def _alone(gone: Iterable[Seen], come: Iterable[Seen]) -> Iterator[Proposal]:
    """Pair the one device of its kind that a heater lost with the one that it gained."""
    groups: dict[tuple[str, str], tuple[list[Seen], list[Seen]]] = defaultdict(lambda: ([], []))
    for place, some in enumerate((gone, come)):
        for one in some:
            if one.equipment:
                groups[tidied(one.equipment), one.device][place].append(one)
    for olds, news in groups.values():
        if len(olds) == 1 and len(news) == 1:
            kind = olds[0].device.replace("_", " ")
            yield _proposal(
                olds[0], news[0], _ONLY_ONE_HERE,
                f"the only {kind} of {news[0].equipment} that went, and the only one that came",
            )  # fmt: skip


def _proposal(old: Seen, new: Seen, likeness: float, reason: str) -> Proposal:
    reasons = [reason]
    alike = {
        "equipment": (tidied(old.equipment), tidied(new.equipment)),
        "area": (tidied(old.area), tidied(new.area)),
        "trap type": (old.trap_type, new.trap_type),
        "bore": (old.bore_in or "", new.bore_in or ""),
    }
    same = [name for name, (was, now) in alike.items() if was and was == now]
    other = [name for name, (was, now) in alike.items() if was and now and was != now]
    if same:
        reasons.append(f"same {', '.join(same)}")
    if other:
        reasons.append(f"but other {', '.join(other)}")
    likeness += _SAME_PLACE_OR_FITTING * (len(same) - 2 * len(other))
    return Proposal(
        "renamed", old.unit, new.unit, old.tag, new.tag,
        round(min(1.0, max(0.0, likeness)), 3), tuple(reasons),
    )  # fmt: skip
