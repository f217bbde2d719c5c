"""Progress of long work, on standard error."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn

from tqdm import tqdm


class Bar:
    """One bar for all stages of a piece of work, in both forms in which rooms tell."""

    def __init__(self, drawn: tqdm[NoReturn]) -> None:
        self._drawn = drawn
        self._stage = ""

    def files(self, done: int, total: int, what: str) -> None:
        """Take how many files are done, of how many, and which comes next."""
        self._drawn.set_postfix_str(what, refresh=False)
        self._at(done, total)

    def stage(self, name: str, done: int, total: int) -> None:
        """Take the stage, how much of it is done, and of how much."""
        if name != self._stage:
            self._stage = name
            self._drawn.reset(total)
            self._drawn.set_description(name, refresh=False)
        self._at(done, total)

    def _at(self, done: int, total: int) -> None:
        self._drawn.total = total
        self._drawn.update(done - self._drawn.n)


@contextmanager
def progress_bar(label: str) -> Iterator[Bar]:
    """Yield what long work tells how far it is; the bar goes when the work is done.

    Where standard error is no terminal nothing is drawn.
    """
    with tqdm(desc=label, file=sys.stderr, leave=False, disable=None) as drawn:
        yield Bar(drawn)
