"""Both passes in this process: batches judged on every core, their findings in one file."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, TypeVar

import pandas as pd
import pyarrow as pa

from survey.diagnosis.cuts import even_ends
from survey.diagnosis.verdict import Diagnosis
from survey.readings.kept import none_as_given
from survey.readings.model import RawTable
from survey.site import Site
from survey.streaming.findings_file import FindingsFile
from survey.streaming.gathering import Gathered, Seen, seen_of
from survey.streaming.judging import judge_batch
from survey.streaming.process_wide import turns_taken_often
from survey.streaming.source import Source
from survey.streaming.tidied_rows import MOST_BYTES, TidiedRows
from survey.streaming.whole import WholeColumns

Progress = Callable[[int, int], None]
Done = TypeVar("Done")


@dataclass(frozen=True)
class Put:
    """A judged round whose findings are in their file, but for the ranks.

    Parameters
    ----------
    counted
        What the totals are made from, of all rows.
    due_tags
        Tags of the rows that something is due on, in order.
    like
        What the totals need of the round: a diagnosis of no rows.
    """

    counted: WholeColumns
    due_tags: list[pa.Array]
    like: Diagnosis


@dataclass(frozen=True)
class Here:
    """The two passes, on so many threads of this process; for one round."""

    workers: int
    tidied: TidiedRows = field(default_factory=lambda: TidiedRows(MOST_BYTES))

    def look(self, source: Source, tell: Progress) -> Iterator[Seen]:
        """Carry out pass one; give what each table leaves, in order."""
        with closing(self._few_ahead(_seen_and_tidied, self._tables(source))) as seen:
            for one, table in seen:
                self.tidied.add(table)
                yield one
                tell(0, 1)

    def _tables(self, source: Source) -> Iterator[tuple[Any, ...]]:
        start = 0
        for tables in source.cut_at(even_ends(source.rows, source.batch_rows)):
            for table in tables:
                yield source, table, start
                start += len(table.cells)

    def judge(
        self, source: Source, gathered: Gathered, site: Site, *, file: FindingsFile, tell: Progress
    ) -> Put:
        """Carry out pass two; the findings go into the file as they come."""
        counted, due_tags = WholeColumns(int(gathered.usable.sum())), []
        batches = self._batches(source, gathered, site)
        with closing(self._few_ahead(judge_batch, batches)) as judged_in_turn:
            for judged in judged_in_turn:
                file.add(judged.findings)
                counted.add(judged.counted)
                due_tags.append(judged.due_tags)
                tell(len(due_tags), len(gathered.ends) + 1)
        # What batches took is handed back, before the totals and the file take theirs.
        pa.default_memory_pool().release_unused()
        return Put(counted, due_tags, judged.like)

    def _batches(
        self, source: Source, gathered: Gathered, site: Site
    ) -> Iterator[tuple[Any, ...]]:
        tidied_is_all = self.tidied.kept and none_as_given(source.claims, gathered.as_typed)
        read = None if tidied_is_all else source.cut_at(gathered.ends)
        for start, end in pairwise([0, *gathered.ends]):
            raw = next(read) if read else []
            tidied = self.tidied.take(int(end - start)) if self.tidied.kept else None
            yield source, raw, gathered.of_rows(int(start), int(end)), site, tidied

    def _few_ahead(
        self, work: Callable[..., Done], asked: Iterable[tuple[Any, ...]]
    ) -> Generator[Done]:
        """Do something many times on several threads, few ahead of the result that is due."""
        waiting: deque[Future[Done]] = deque()
        with turns_taken_often, ThreadPoolExecutor(self.workers) as pool:
            for arguments in asked:
                waiting.append(pool.submit(work, *arguments))
                if len(waiting) > self.workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()


def _seen_and_tidied(source: Source, raw: RawTable, start: int) -> tuple[Seen, pd.DataFrame]:
    part = source.part(raw)
    return seen_of(source, part, start), part.tidied.table
