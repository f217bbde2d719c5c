"""Which columns of one table are read as what: the recipe, the caller and the header together."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tapertread.errors import OutlineRefused, RecipeRefused, Where
from tapertread.shapes.outline import Floats, Kind
from tapertread.shapes.reading.header import (
    KIND_BY_NAME,
    find_labels,
    listed,
    split_name,
    unknown_unit,
)
from tapertread.shapes.reading.point_columns import ColumnNames, long_points, wide_points
from tapertread.shapes.reading.recipe_fields import (
    LABELS,
    LENGTH_UNITS_MM,
    LengthUnit,
    Recipe,
)
from tapertread.shapes.reading.tables_in import Table


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
    names = ColumnNames(table.first_row if table.header else (), table.column_count)
    labels = _labels(names, recipe)
    points = wide_points(names, recipe.wide) if recipe.wide else long_points(names, recipe)
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


def _labels(names: ColumnNames, recipe: Recipe) -> dict[str, int]:
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


def _kind(names: ColumnNames, labels: dict[str, int], *, recipe: Recipe, kind: Kind | None) -> Kind:
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
