"""What every kind of table file hands on: chunks of rows with the line each row stands on."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import polars as pl
from numpy.typing import NDArray

from tapertread.shapes.outline import Floats

Lines = NDArray[np.int64]


class Chunk(Protocol):
    """Some rows of a table; columns are asked for by index from 0."""

    @property
    def lines(self) -> Lines:
        """Line (text) or row (workbook, Parquet) of each row, counted from 1, shape (rows,)."""

    @property
    def knows_numbers(self) -> bool:
        """Whether the file tells numbers from text, so that no decimal sign is in question."""

    def numbers(self, columns: tuple[int, ...]) -> Floats:
        """Return columns as float64, shape (rows, columns); NaN where a cell is no plain number."""

    def texts(self, columns: tuple[int, ...]) -> pl.DataFrame:
        """Return columns as text, null where blank."""
