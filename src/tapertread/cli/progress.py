"""Progress of long work, on standard error."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from tqdm import tqdm

Told = Callable[[int, int, str], None]
"""Called with parts done, parts in all, and what comes next."""


@contextmanager
def progress_bar(label: str) -> Iterator[Told]:
    """Yield what long work calls to tell how far it is; the bar goes when the work is done.

    Where standard error is no terminal nothing is drawn.
    """
    with tqdm(desc=label, file=sys.stderr, leave=False, disable=None) as bar:

        def told(done: int, total: int, what: str) -> None:
            bar.total = total
            bar.set_postfix_str(what, refresh=False)
            bar.update(done - bar.n)

        yield told
