"""Which columns of one table are read as what: the recipe, the caller and the header together."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from fnmatch import fnmatchcase

import numpy as np

from tapertread.errors import OutlineRefused, RecipeRefused, Where
from tapertread.shapes.header import (
    KIND_BY_NAME,
    find_coordinate,
    find_labels,
    listed,
    split_name,
    unknown_unit,
)
from tapertread.shapes.outline import Floats, Kind
from tapertread.shapes.recipe import LABELS
from tapertread.shapes.recipe_fields import LENGTH_UNITS_MM, Grid, LengthUnit, Recipe, WideRows
from tapertread.shapes.tables_in import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnPlan:
    """Which columns to read, and what they mean.

    Attributes
    ----------
    numbers : tuple of int
        Columns (index from 0) read as numbers.
    number_names : tuple of str
        What they are called in refusals.
    y_at, z_at : tuple of int
        Places in `numbers`: one each (long), or one for each point of a row (wide).
    grid_mm : ndarray or None
        y of each z column where the file does not hold y, mm.
    y_mm, z_mm : float
        Millimetres in one unit of the column.
    labels : dict of str to int
        Columns of asset, side, campaign and time, as far as there are any.
    kind : {"wheel", "rail"}
        What the outlines show.
    notes : tuple of str
        What was taken for granted.
    """

    numbers: tuple[int, ...]
    number_names: tuple[str, ...]
    y_at: tuple[int, ...]
    z_at: tuple[int, ...]
    grid_mm: Floats | None
    y_mm: float
    z_mm: float
    labels: dict[str, int]
    kind: Kind
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Names:
    """Columns of one table, by name or number."""

    names: tuple[str, ...]
    count: int

    def text(self, index: int) -> str:
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


def plan_columns(
    table: Table, recipe: Recipe, *, kind: Kind | None, units: LengthUnit | None
) -> ColumnPlan:
    """Decide which columns of a table are read as what.

    Parameters
    ----------
    table : Table
        The opened file.
    recipe : Recipe
        What is known about it.
    kind : {"wheel", "rail"} or None
        What the caller says it shows.
    units : str or None
        Unit of y and z that the caller states; it beats recipe and header.

    Raises
    ------
    OutlineRefused
        Without a recipe's help, the header does not say enough.
    RecipeRefused
        The recipe contradicts the file.
    """
    names = _Names(table.first_row if table.header else (), table.column_count)
    labels = _labels(names, recipe)
    points = _wide_points(names, recipe.wide) if recipe.wide else _long_points(names, recipe)
    y_unit, notes_y = _unit("y", points.y_names, recipe.units.y, units)
    z_unit, notes_z = _unit("z", points.z_names, recipe.units.z, units)
    y_mm = LENGTH_UNITS_MM[y_unit]
    found_kind = _kind(names, labels, recipe=recipe, kind=kind)
    return ColumnPlan(
        numbers=points.numbers,
        number_names=tuple(names.text(at) for at in points.numbers),
        y_at=points.y_at,
        z_at=points.z_at,
        grid_mm=None if points.grid is None else points.grid * y_mm,
        y_mm=y_mm,
        z_mm=LENGTH_UNITS_MM[z_unit],
        labels=labels,
        kind=found_kind,
        notes=(*notes_y, *(n for n in notes_z if n not in notes_y), *_frame(recipe, found_kind)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Points:
    """Where the points stand: columns, and the place of each y and z among them."""

    numbers: tuple[int, ...]
    y_at: tuple[int, ...]
    z_at: tuple[int, ...]
    y_names: tuple[str, ...]
    z_names: tuple[str, ...]
    grid: Floats | None = None


def _long_points(names: _Names, recipe: Recipe) -> _Points:
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
    return _Points(numbers=(y, z), y_at=(0,), z_at=(1,), y_names=y_names, z_names=z_names)


def _long_column(names: _Names, recipe: Recipe, letter: str) -> int:
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


def _wide_points(names: _Names, wide: WideRows) -> _Points:
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
    return _Points(
        numbers=(*y, *z),
        y_at=tuple(range(len(y))),
        z_at=tuple(range(len(y), len(y) + len(z))),
        y_names=tuple(names.text(at) for at in y) if known else (),
        z_names=tuple(names.text(at) for at in z) if known else (),
        grid=grid,
    )


def _grid(names: _Names, grid: Grid | tuple[float, ...] | str, z: Sequence[int]) -> Floats:
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


def _labels(names: _Names, recipe: Recipe) -> dict[str, int]:
    """Return the label columns: the recipe's, and recognised ones that it does not speak of."""
    elsewhere = {label for label in LABELS if getattr(recipe.fixed, label)}
    elsewhere.update(re.findall(r"\{(\w+)\}", recipe.file_name))
    said = {
        label: names.index(column, key=f"columns.{label}")
        for label in LABELS
        if (column := getattr(recipe.columns, label)) is not None
    }
    free = [
        "" if at in said.values() or _speaks_of(name, said, elsewhere) else name
        for at, name in enumerate(names.names)
    ]
    return {**find_labels(free), **said}


def _speaks_of(name: str, said: dict[str, int], elsewhere: set[str]) -> bool:
    return any(label in said or label in elsewhere for label in find_labels([name]))


def _unit(
    letter: str, columns: tuple[str, ...], said: LengthUnit | None, caller: LengthUnit | None
) -> tuple[LengthUnit, tuple[str, ...]]:
    """Return the unit of a coordinate: the caller's, else the recipe's, else the header's."""
    if caller is not None:
        header = {unit for _, unit, _ in map(split_name, columns) if unit}
        beaten = header - {caller}
        notes = (f"units {caller} as told, not {', '.join(sorted(beaten))} as in the header",)
        return caller, notes if beaten else ()
    found = set()
    for name in columns:
        _, unit, word = split_name(name)
        if word and said is None:
            raise unknown_unit(name, word)
        if unit:
            found.add(unit)
    if said is not None:
        if found - {said}:
            raise _units_contradict(letter, said, columns)
        return said, ()
    if len(found) == 1:
        return found.pop(), ()
    raise OutlineRefused(
        "units-absent" if not found else "units-contradict",
        f"no unit of {letter}" if not found else f"several units of {letter}",
        allowed=f"the unit in the header, such as `{letter}_mm` or `{letter} [in]`",
        todo="state the units (--units mm or --units in), name them in the header or in a recipe",
    ).at(column=columns[0] if columns else letter)


def _units_contradict(letter: str, said: str, columns: tuple[str, ...]) -> RecipeRefused:
    return RecipeRefused(
        "units-contradict",
        f"the recipe says {letter} in {said}, the header says {listed(columns)}",
        allowed="one unit",
        todo=f"correct units.{letter}, or skip the header line and number the columns",
        where=Where(column=columns[0], record=f"units.{letter}"),
    )


def _kind(names: _Names, labels: dict[str, int], *, recipe: Recipe, kind: Kind | None) -> Kind:
    asset = names.names[labels["asset"]].lower() if names.names and "asset" in labels else ""
    said: dict[str, Kind | None] = {
        "the caller": kind,
        "the recipe": recipe.kind,
        f"the column `{asset}`": KIND_BY_NAME.get(asset),
    }
    stated = {who: what for who, what in said.items() if what is not None}
    if len(set(stated.values())) == 1:
        return next(iter(stated.values()))
    if not stated:
        raise OutlineRefused(
            "kind-unknown",
            "nothing that says whether these are wheels or rails",
            allowed="a column `wheelset` or `section`, a recipe with `kind`, or the caller's word",
            todo="say it (--kind wheel or --kind rail)",
        )
    words = ", ".join(f"{who} says {what}" for who, what in stated.items())
    raise OutlineRefused(
        "kind-contradicts",
        f"no agreement on what was measured: {words}",
        allowed="one kind for a table",
        todo="correct the one that is wrong",
    )


def _frame(recipe: Recipe, kind: Kind) -> tuple[str, ...]:
    if kind == "rail" and recipe.frame is None:
        return ("frame not stated: taken as rail-axis, the rail standing upright",)
    if kind == "wheel" and recipe.frame is not None:
        raise RecipeRefused(
            "frame-contradicts",
            f"the frame `{recipe.frame}` for wheels",
            allowed="a frame for rails only",
            todo="take the frame out of the recipe",
            where=Where(record="frame"),
        )
    return ()
