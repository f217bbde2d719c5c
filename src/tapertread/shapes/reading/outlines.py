"""Reading measured outlines: any table, with a recipe or by its header, into raw outlines.

``read_outlines`` gives all of a file at once; ``iter_outlines`` gives one after another and keeps
memory bounded, for files of any length; ``read_outline`` gives the only one, or the chosen one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import msgspec

from tapertread.errors import OutlineRefused, RecipeRefused, RefusedInput, Where, WrongUsage
from tapertread.shapes.outline import Kind, Side
from tapertread.shapes.reading.assembling import Assembled, Assembly
from tapertread.shapes.reading.batches import read_batches
from tapertread.shapes.reading.column_plan import ColumnPlan, plan_columns
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.reading.recipe import check_recipe, read_recipe
from tapertread.shapes.reading.recipe_fields import LENGTH_UNITS_MM, LengthUnit, Recipe
from tapertread.shapes.reading.tables_in import Table, open_table
from tapertread.shapes.reading.text_form import is_number

BATCH_ROWS = 200_000

__all__ = ["RawOutline", "Reading", "iter_outlines", "read_outline", "read_outlines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one file held.

    Attributes
    ----------
    file : str
        The file.
    outlines : list of RawOutline
        The outlines that could be read, in the order of the file.
    refusals : list of RefusedInput
        One for each outline that could not.
    notes : tuple of str
        What was taken for granted.
    """

    file: str
    outlines: list[RawOutline]
    refusals: list[RefusedInput]
    notes: tuple[str, ...] = ()

    @property
    def refused(self) -> list[dict[str, object]]:
        """The refusals as plain values: code, found, allowed, todo, file, line, column, record."""
        return [refusal.to_dict() for refusal in self.refusals]


def read_outlines(
    path: Path | str,
    recipe: Recipe | Path | str | None = None,
    *,
    kind: Kind | None = None,
    units: LengthUnit | None = None,
    batch_rows: int = BATCH_ROWS,
) -> Reading:
    """Read every outline of a file.

    Parameters
    ----------
    path : Path or str
        CSV, TXT, XLSX or Parquet.
    recipe : Recipe, Path, str or None
        How to read it, or where that is written; ``None`` goes by the header.
    kind : {"wheel", "rail"} or None
        What the outlines show, where neither recipe nor header says it.
    units : {"mm", "um", "cm", "in", "m"} or None
        Unit of y and z; beats header and recipe.
    batch_rows : int
        Rows read at once.

    Raises
    ------
    FileRefused
        The file is missing, empty, binary, of one column, or torn.
    OutlineRefused
        The header and the caller do not say enough to read any outline.
    RecipeRefused
        The recipe cannot be used, or contradicts the file.
    WrongUsage
        Unknown `units`.
    """
    opened = _open(path, recipe, kind=kind, units=units)
    results = list(opened.results(batch_rows))
    return Reading(
        file=str(path),
        outlines=[result for result in results if isinstance(result, RawOutline)],
        refusals=[result for result in results if isinstance(result, RefusedInput)],
        notes=opened.plan.notes,
    )


def iter_outlines(
    path: Path | str,
    recipe: Recipe | Path | str | None = None,
    *,
    kind: Kind | None = None,
    units: LengthUnit | None = None,
    batch_rows: int = BATCH_ROWS,
) -> Iterator[Assembled]:
    """Yield the outlines of a file one after another, each refusal in its outline's place.

    Memory is bounded by `batch_rows` (and the names of the outlines seen), except for workbooks,
    which are loaded whole. Parameters and what it raises are those of `read_outlines`; the file is
    opened by the call itself, so that a file that cannot be read is refused at once.
    """
    return _open(path, recipe, kind=kind, units=units).results(batch_rows)


def read_outline(
    path: Path | str,
    recipe: Recipe | Path | str | None = None,
    *,
    kind: Kind | None = None,
    units: LengthUnit | None = None,
    asset: str | None = None,
    side: Side | None = None,
    campaign: str | None = None,
) -> RawOutline:
    """Read the only outline of a file, or the only one of an asset, side and campaign.

    Raises
    ------
    OutlineRefused
        ``many-outlines`` or ``no-such-outline``; the outline's own refusal where it cannot be read.
    FileRefused, RecipeRefused, WrongUsage
        As `read_outlines`.
    """
    reading = read_outlines(path, recipe, kind=kind, units=units)
    wanted = {"asset": asset, "side": side, "campaign": campaign}
    asked = {label: value for label, value in wanted.items() if value is not None}
    found = [
        raw
        for raw in reading.outlines
        if all(getattr(raw, label) == value for label, value in asked.items())
    ]
    if len(found) == 1 and (asked or not reading.refusals):
        return found[0]
    if not found and reading.refusals:
        raise reading.refusals[0]
    raise _not_one(reading, found, asked)


def _not_one(reading: Reading, found: list[RawOutline], asked: dict[str, str]) -> OutlineRefused:
    names = [raw.record for raw in (found or reading.outlines)]
    shown = ", ".join(names[:6]) + (" …" if len(names) > 6 else "")
    words = " ".join(asked.values())
    return OutlineRefused(
        "many-outlines" if found else "no-such-outline",
        f"{len(found)} outlines{f' of {words}' if words else ''} and {len(reading.refusals)} "
        f"refused ones; there are {shown}",
        allowed="one outline",
        todo="choose by asset, side and campaign, or give a file of one outline",
        where=Where(file=reading.file),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opened:
    """A table whose columns are known, ready to be read."""

    table: Table
    plan: ColumnPlan
    recipe: Recipe
    given: dict[str, str]

    def results(self, rows: int) -> Iterator[Assembled]:
        assembly = Assembly(
            path=self.table.path, plan=self.plan, recipe=self.recipe, given=self.given
        )
        batches = read_batches(self.table, self.plan, self.recipe.file, rows=rows)
        return assembly.outlines(batches)


def _open(
    path: Path | str,
    recipe: Recipe | Path | str | None,
    *,
    kind: Kind | None,
    units: LengthUnit | None,
) -> _Opened:
    path = Path(path)
    if units is not None and units not in LENGTH_UNITS_MM:
        raise WrongUsage(f"units {units!r}: use one of {', '.join(LENGTH_UNITS_MM)}")
    known = _as_recipe(recipe)
    table = open_table(path, known.file)
    try:
        if table.header and _has_no_names(table, known):
            known = _headerless(table, known, allowed=recipe is None and units is not None)
            table = open_table(path, known.file)
        plan = plan_columns(table, known, kind=kind, units=units)
        given = _given(path, known, plan)
    except RefusedInput as refused:
        raise refused.at(file=str(path)) from None
    return _Opened(table=table, plan=plan, recipe=known, given=given)


def _as_recipe(recipe: Recipe | Path | str | None) -> Recipe:
    if recipe is None:
        return Recipe()
    if isinstance(recipe, Recipe):
        check_recipe(recipe)
        return recipe
    return read_recipe(recipe)


def _has_no_names(table: Table, recipe: Recipe) -> bool:
    numbers = all(is_number(cell) for cell in table.first_row if cell)
    return numbers and not (recipe.wide is not None and recipe.wide.grid == "header")


def _headerless(table: Table, recipe: Recipe, *, allowed: bool) -> Recipe:
    """Return the recipe for a table of two bare columns whose units the caller states."""
    if allowed and table.column_count == 2:
        form = msgspec.structs.replace(recipe.file, header=False)
        return msgspec.structs.replace(recipe, file=form)
    shown = ", ".join(table.first_row[:6])
    raise OutlineRefused(
        "header-missing",
        f"numbers ({shown}) where the names of the columns should be",
        allowed="a header such as `y_mm,z_mm`; without one, two columns y, z and stated units",
        todo="add the header, state the units (--units mm or --units in), or use a recipe with "
        "file.header = false",
    )


def _given(path: Path, recipe: Recipe, plan: ColumnPlan) -> dict[str, str]:
    """Return what is known of every outline of a file: from its name, and fixed by the recipe."""
    fixed = recipe.fixed
    given = {
        label: str(value)
        for label, value in (
            ("asset", fixed.asset),
            ("campaign", fixed.campaign),
            ("time", fixed.time),
        )
        if value
    }
    if fixed.side:
        given["side"] = (
            recipe.side_values.left if fixed.side == "left" else recipe.side_values.right
        )[0]
    if recipe.file_name:
        given.update(_from_name(path.stem, recipe.file_name))
    if "asset" not in plan.labels:
        given.setdefault("asset", path.stem)
    return given


def _from_name(stem: str, pattern: str) -> dict[str, str]:
    parts = re.split(r"(\{\w+\}|\*)", pattern)
    expression = "".join(
        f"(?P<{part[1:-1]}>.+?)"
        if part.startswith("{")
        else ".*"
        if part == "*"
        else re.escape(part)
        for part in parts
    )
    found = re.fullmatch(expression, stem)
    if found is None:
        raise RecipeRefused(
            "file-name",
            f"the file name {stem!r}",
            allowed=f"names of the form `{pattern}`",
            todo="rename the file, or correct file_name in the recipe",
            where=Where(record="file_name"),
        )
    return found.groupdict()
