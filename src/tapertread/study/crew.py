"""Several processes for long work, started once an assessment has enough of it."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from types import TracebackType
from typing import Self, TypeVar

T = TypeVar("T")
R = TypeVar("R")

POOL_FROM = 64
"""Fewer pieces of work than this are not worth the start of other processes."""

CHUNK = 8


class Crew:
    """So many processes, or none where one is enough; results come in the order of the work.

    Parameters
    ----------
    workers : int
        Processes to use; 1 works here.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._pool: ProcessPoolExecutor | None = None

    def map(
        self, work: Callable[[T], R], pieces: Sequence[T], *, chunk: int = CHUNK
    ) -> Iterator[R]:
        """Yield what the work makes of every piece, the same for any number of workers."""
        if self.workers < 2 or (self._pool is None and len(pieces) < POOL_FROM):
            return map(work, pieces)
        if self._pool is None:
            self._pool = ProcessPoolExecutor(
                max_workers=self.workers, mp_context=multiprocessing.get_context("spawn")
            )
        return self._pool.map(work, pieces, chunksize=chunk)

    def __enter__(self) -> Self:
        """Begin the work."""
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _fault: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        """Send the processes home."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
            self._pool = None
