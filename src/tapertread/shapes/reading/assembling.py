"""Rows into outlines: runs of a long table, or one row each of a wide one.

A fault spoils the outline it stands in and no other: it comes out as a refusal in the place where
the outline would have come.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tapertread.errors import FileRefused, OutlineRefused, RefusedInput, Where
from tapertread.shapes.outline import Floats, Origin, Outline, Side
from tapertread.shapes.reading.batches import Batch
from tapertread.shapes.reading.column_plan import ColumnPlan
from tapertread.shapes.reading.dates import iso_time
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.shapes.reading.recipe_fields import LABELS, Flip, Recipe

MOST_POINTS = 100_000
"""Points of one outline beyond which the table surely lacks a column that parts its outlines."""

Assembled = RawOutline | RefusedInput


class _Rows(NamedTuple):
    """Rows of one outline within a batch."""

    begin: int
    end: int


class _Known(NamedTuple):
    """What an outline is known by; two with the same of all four would be one measurement."""

    asset: str
    side: Side | None
    campaign: str
    time: str

    def __str__(self) -> str:
        return " ".join(part for part in self if part)


@dataclass(kw_only=True)
class Assembly:
    """Makes the outlines of one file, and remembers which ones it has seen.

    Parameters
    ----------
    path : Path
        The file.
    plan : ColumnPlan
        Its columns.
    recipe : Recipe
        How it is to be read.
    given : dict of str to str
        Labels that hold for the whole file.
    """

    path: Path
    plan: ColumnPlan
    recipe: Recipe
    given: dict[str, str]
    _seen: dict[_Known, int] = field(default_factory=dict)
    _told: set[_Known] = field(default_factory=set)

    def outlines(self, batches: Iterable[Batch]) -> Iterator[Assembled]:
        """Yield each outline, or the refusal in its place, in the order of the file.

        Raises
        ------
        OutlineRefused
            ``too-many-points`` where a long table does not part its outlines.
        FileRefused
            ``empty-file`` where there is no row at all.
        """
        parted = self._rows(batches) if self.recipe.layout == "wide" else self._runs(batches)
        empty = True
        for batch, rows in parted:
            empty = False
            result = self._result(batch, rows)
            if result is not None:
                yield result
        if empty:
            raise FileRefused(
                "empty-file",
                "a header and no points below it",
                allowed="a table of points",
                todo="export the measurement again",
                where=Where(file=str(self.path)),
            )

    def _rows(self, batches: Iterable[Batch]) -> Iterator[tuple[Batch, _Rows]]:
        for batch in batches:
            for row in range(batch.lines.size):
                yield batch, _Rows(row, row + 1)

    def _runs(self, batches: Iterable[Batch]) -> Iterator[tuple[Batch, _Rows]]:
        """Yield runs of rows with equal labels; one that reaches a batch's end waits for more."""
        tail: Batch | None = None
        for later in batches:
            batch = later if tail is None else tail.followed_by(later)
            starts = _run_starts(batch)
            for begin, end in pairwise(starts):
                yield batch, _Rows(begin, end)
            tail = batch.part(starts[-1], batch.lines.size)
            if tail.lines.size > MOST_POINTS:
                raise self._too_many(tail)
        if tail is not None:
            yield tail, _Rows(0, tail.lines.size)

    def _result(self, batch: Batch, rows: _Rows) -> Assembled | None:
        """Return an outline or its refusal; nothing where a repeated one was refused already."""
        first = int(batch.lines[rows.begin])
        texts = {label: batch.labels[label][rows.begin] for label in batch.labels.columns}
        record = " ".join(texts[label] for label in LABELS if texts.get(label))
        try:
            known = self._known(texts)
            record = str(known)
            before = self._seen.setdefault(known, first)
            if before != first:
                if known in self._told:
                    return None
                self._told.add(known)
                raise _repeated(before)
            return self._outline(batch, rows, known=known)
        except RefusedInput as refused:
            return refused.at(file=str(self.path), line=first, record=record or None)

    def _known(self, texts: dict[str, str]) -> _Known:
        said = {**self.given, **texts}
        if not said.get("asset"):
            raise OutlineRefused(
                "asset-missing",
                "no name of the wheelset or section",
                allowed="a name in each row",
                todo="fill the blank cells",
            )
        side = self._side(said["side"]) if "side" in said else None
        time = iso_time(said.get("time", ""), self.recipe.file.date_format)
        return _Known(said["asset"], side, said.get("campaign", ""), time)

    def _side(self, word: str) -> Side:
        values = self.recipe.side_values
        words: dict[str, Side] = {said.strip().casefold(): "left" for said in values.left}
        words.update({said.strip().casefold(): "right" for said in values.right})
        try:
            return words[word.strip().casefold()]
        except KeyError:
            raise OutlineRefused(
                "unknown-side",
                f"the side {word!r}",
                allowed=", ".join(words),
                todo="correct the cell, or list its word under side_values in a recipe",
            ) from None

    def _outline(self, batch: Batch, rows: _Rows, *, known: _Known) -> RawOutline:
        if rows.end - rows.begin > MOST_POINTS:
            raise self._too_many(batch.part(*rows))
        wide = self.recipe.layout == "wide"
        y, z = self._wide(batch, rows.begin) if wide else self._long(batch, rows)
        y, z = self._in_our_axes(y, z, side=known.side)
        recipe = self.recipe
        outline = Outline(
            kind=self.plan.kind,
            y_mm=y,
            z_mm=z,
            origin=Origin(name=str(known)),
            frame=recipe.frame or "rail-axis",
        )
        return RawOutline(
            outline=outline,
            asset=known.asset,
            side=known.side,
            campaign=known.campaign,
            time=known.time,
            stylus_radius_mm=recipe.stylus_radius_mm,
            device=recipe.device,
            repeatability_mm=recipe.repeatability_mm,
            file=str(self.path),
            first_line=int(batch.lines[rows.begin]),
            last_line=int(batch.lines[rows.end - 1]),
            recipe_name=recipe.name,
        )

    def _long(self, batch: Batch, rows: _Rows) -> tuple[Floats, Floats]:
        y, z = batch.numbers[rows.begin : rows.end].T
        there = np.isfinite(y) & np.isfinite(z)
        if there.all():
            return y, z
        skips = self.recipe.file.missing_points == "skip"
        for row in np.flatnonzero(~there) + rows.begin:
            self._refuse_cells(batch, int(row), (0, 1), unless_blank=skips)
        return y[there], z[there]

    def _wide(self, batch: Batch, row: int) -> tuple[Floats, Floats]:
        """Return the points of one row; an outline may be shorter than its table is wide."""
        plan = self.plan
        numbers = batch.numbers[row]
        z = numbers[list(plan.z_at)]
        y = numbers[list(plan.y_at)] if plan.grid_mm is None else plan.grid_mm / plan.y_mm
        there = np.isfinite(z) & np.isfinite(y)
        if there.all():
            return y, z
        said = np.isfinite(z) | (np.isfinite(y) if plan.grid_mm is None else False)
        used = np.flatnonzero(said)
        first, last = (int(used[0]), int(used[-1])) if used.size else (0, -1)
        skips = self.recipe.file.missing_points == "skip"
        for point in np.flatnonzero(~there):
            inside = first <= point <= last
            pair = (plan.z_at[point],) if plan.grid_mm is not None else self._pair(int(point))
            self._refuse_cells(batch, row, pair, unless_blank=skips or not inside)
        return y[there], z[there]

    def _pair(self, point: int) -> tuple[int, ...]:
        return self.plan.y_at[point], self.plan.z_at[point]

    def _refuse_cells(
        self, batch: Batch, row: int, columns: tuple[int, ...], *, unless_blank: bool
    ) -> None:
        """Refuse the first of these cells that holds no number, blank ones only if told so."""
        for column in columns:
            text = batch.bad.get((row, column), "")
            if text or (np.isnan(batch.numbers[row, column]) and not unless_blank):
                raise _not_a_number(
                    text, line=int(batch.lines[row]), column=self.plan.number_names[column]
                )

    def _in_our_axes(self, y: Floats, z: Floats, *, side: Side | None) -> tuple[Floats, Floats]:
        axes = self.recipe.axes
        y, z = y * self.plan.y_mm, z * self.plan.z_mm
        if axes.swap:
            y, z = z, y
        y = -y if _flips(axes.flip_y, side) else y
        z = -z if _flips(axes.flip_z, side) else z
        return y + axes.origin_y_mm, z + axes.origin_z_mm

    def _too_many(self, rows: Batch) -> OutlineRefused:
        return OutlineRefused(
            "too-many-points",
            f"more than {MOST_POINTS:,} points in one outline",
            allowed="columns that part the outlines: asset, side, campaign",
            todo="add these columns, or name them in a recipe",
            where=Where(file=str(self.path), line=int(rows.lines[0])),
        )


def _flips(flip: Flip, side: Side | None) -> bool:
    if isinstance(flip, bool):
        return flip
    if side is None:
        raise OutlineRefused(
            "side-missing",
            f"no side, while the recipe turns an axis on the {flip} one only",
            allowed="outlines whose side is known",
            todo="name the side in a column, in the file's name or in the recipe",
        )
    return flip == side


def _run_starts(batch: Batch) -> list[int]:
    """Return where runs of equal labels begin (the first is 0)."""
    count = batch.lines.size
    changed: NDArray[np.bool_] = np.zeros(count, dtype=bool)
    changed[0] = True
    for series in batch.labels:
        changed[1:] |= (series[1:] != series[:-1]).to_numpy()
    return np.flatnonzero(changed).tolist()


def _repeated(before: int) -> OutlineRefused:
    return OutlineRefused(
        "duplicate-outline",
        f"points of an outline that began on line {before} and was ended by another",
        allowed="each asset, side, campaign and time once, its points together",
        todo="sort the table, or tell the outlines apart by campaign or time",
    )


def _not_a_number(text: str, *, line: int, column: str) -> OutlineRefused:
    comma = "," in text
    return OutlineRefused(
        "not-a-number" if text else "missing-number",
        f"the text {text!r} where a number should be" if text else "a blank cell in the outline",
        allowed="finite numbers with one decimal sign throughout the file",
        todo='set file.decimal = "," in a recipe'
        if comma
        else "correct the cell, or list its text under file.missing_texts in a recipe",
        where=Where(line=line, column=column),
    )
