"""Where the points of a table stand: columns by name or number, of long tables and of wide ones."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from fnmatch import fnmatchcase

import numpy as np

from tapertread.errors import RecipeRefused, Where
from tapertread.shapes.outline import Floats
from tapertread.shapes.reading.header import find_coordinate, listed
from tapertread.shapes.reading.recipe_fields import Grid, Recipe, WideRows


@dataclass(frozen=True, slots=True)
class ColumnNames:
    """Columns of one table, by name or number."""

    names: tuple[str, ...]
    count: int

    def text(self, index: int) -> str:
        """Return what a column is called in a message: its name, or its number from 1."""
        return self.names[index] if self.names else str(index + 1)

    def index(self, column: int | str, *, key: str) -> int:
        """Return the index of a column of the recipe."""
        if isinstance(column, int):
            if column <= self.count:
                return column - 1
        elif column.strip() in self.names:
            return self.names.index(column.strip())
        raise self.missing(column, key=key)

    def missing(self, column: int | str, *, key: str) -> RecipeRefused:
        """Return the refusal of a column that is not there, with the nearest name that is."""
        near = get_close_matches(str(column), self.names, n=1, cutoff=0.6)
        there = listed(self.names) if self.names else f"{self.count} columns without names"
        return RecipeRefused(
            "missing-column",
            f"no column {column!r}; there are {there}",
            allowed="columns that the file has",
            todo=f"did you mean `{near[0]}`?" if near else f"correct {key} in the recipe",
            where=Where(column=str(column), record=key),
        )

    def several(self, text: str, *, key: str) -> list[int]:
        """Return the indices that a list of numbers, ranges and names with ``*`` stands for."""
        found: list[int] = []
        for part in (part.strip() for part in text.split(",")):
            if span := re.fullmatch(r"(\d+)\s*-\s*(\d+)", part):
                numbers = range(int(span.group(1)), int(span.group(2)) + 1)
                found.extend(self.index(number, key=key) for number in numbers)
            elif part.isdigit() and int(part) > 0:
                found.append(self.index(int(part), key=key))
            else:
                matches = [at for at, name in enumerate(self.names) if fnmatchcase(name, part)]
                if not matches:
                    raise self.missing(part, key=key)
                found.extend(matches)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class PointColumns:
    """Where the points stand: columns, and the place of each y and z among them."""

    numbers: tuple[int, ...]
    y_at: tuple[int, ...]
    z_at: tuple[int, ...]
    y_names: tuple[str, ...]
    z_names: tuple[str, ...]
    grid: Floats | None = None


def long_points(names: ColumnNames, recipe: Recipe) -> PointColumns:
    """Return the two columns of a long table: the recipe's, or those that the header names.

    Raises
    ------
    OutlineRefused
        If the header names no y or z, or two.
    RecipeRefused
        If a column of the recipe is not there, or both are the same.
    """
    y, z = (_long_column(names, recipe, letter) for letter in ("y", "z"))
    if y == z:
        raise RecipeRefused(
            "said-twice",
            f"y and z both in the column {names.text(y)}",
            allowed="two different columns",
            todo="correct columns.y or columns.z in the recipe",
            where=Where(record="columns"),
        )
    y_names, z_names = ((names.text(at),) if names.names else () for at in (y, z))
    return PointColumns(numbers=(y, z), y_at=(0,), z_at=(1,), y_names=y_names, z_names=z_names)


def _long_column(names: ColumnNames, recipe: Recipe, letter: str) -> int:
    said = getattr(recipe.columns, letter)
    if said is not None:
        return names.index(said, key=f"columns.{letter}")
    if names.names:
        return find_coordinate(names.names, letter)
    if names.count == 2:
        return "yz".index(letter)
    raise RecipeRefused(
        "missing-column",
        f"{names.count} columns without names, and no columns.{letter}",
        allowed="column numbers of y and z, counted from 1",
        todo=f"set columns.{letter} in the recipe",
        where=Where(record=f"columns.{letter}"),
    )


def wide_points(names: ColumnNames, wide: WideRows) -> PointColumns:
    """Return the columns of a wide table, one y and one z for each point of a row.

    Raises
    ------
    RecipeRefused
        If a column is not there, or there is not one y for each z.
    """
    z = names.several(wide.pairs or wide.z, key="wide.pairs" if wide.pairs else "wide.z")
    y = names.several(wide.y, key="wide.y") if wide.y else []
    if wide.pairs:
        if len(z) % 2:
            raise _unequal(f"{len(z)} columns in pairs", "wide.pairs")
        y, z = z[::2], z[1::2]
    grid = None if wide.grid is None else _grid(names, wide.grid, z)
    count = len(y) if grid is None else grid.size
    if count != len(z):
        raise _unequal(f"{count} values of y for {len(z)} columns of z", "wide")
    known = names.names and wide.grid != "header"
    return PointColumns(
        numbers=(*y, *z),
        y_at=tuple(range(len(y))),
        z_at=tuple(range(len(y), len(y) + len(z))),
        y_names=tuple(names.text(at) for at in y) if known else (),
        z_names=tuple(names.text(at) for at in z) if known else (),
        grid=grid,
    )


def _grid(names: ColumnNames, grid: Grid | tuple[float, ...] | str, z: Sequence[int]) -> Floats:
    if isinstance(grid, Grid):
        return grid.first + grid.step * np.arange(len(z), dtype=np.float64)
    if not isinstance(grid, str):
        return np.array(grid, dtype=np.float64)
    texts = [names.text(at).replace(",", ".") for at in z]
    try:
        values = np.array([float(text) for text in texts])
    except ValueError:
        values = np.array([np.nan])
    if not (names.names and np.isfinite(values).all()):
        raise RecipeRefused(
            "grid-contradicts",
            f"column names that are not all numbers: {listed(texts)}",
            allowed='numbers as names of the z columns with `grid = "header"`',
            todo="give grid.first and grid.step, or a list",
            where=Where(record="wide.grid"),
        )
    return values


def _unequal(found: str, key: str) -> RecipeRefused:
    return RecipeRefused(
        "layout-contradicts",
        found,
        allowed="one y for each z",
        todo="correct the columns in the recipe",
        where=Where(record=key),
    )
