"""Whether a recipe agrees with itself, before it meets a file."""

from __future__ import annotations

import codecs
import re

import msgspec

from tapertread.errors import RecipeRefused, Where
from tapertread.shapes.reading.recipe_fields import DELIMITER_WORDS, LABELS, Columns, Recipe


def check_recipe(recipe: Recipe) -> None:
    """Refuse a recipe that contradicts itself.

    Raises
    ------
    RecipeRefused
        At the first contradiction, with the key.
    """
    for check in (_check_text, _check_layout, _check_labels, _check_names, _check_frame):
        check(recipe)


def _check_text(recipe: Recipe) -> None:
    form = recipe.file
    if form.delimiter not in DELIMITER_WORDS and len(form.delimiter) != 1:
        raise contradiction(
            "bad-delimiter",
            f"the delimiter {form.delimiter!r}",
            allowed="one character, `tab`, `whitespace` or `auto`",
            todo="name the sign that stands between two cells",
            record="file.delimiter",
        )
    if form.delimiter in (form.decimal if form.decimal != "auto" else ".", '"', "\n", "\r"):
        raise contradiction(
            "bad-delimiter",
            f"the delimiter {form.delimiter!r} beside the decimal sign {form.decimal!r}",
            allowed="a delimiter that cannot stand within a cell",
            todo="correct one of the two",
            record="file.delimiter",
        )
    if form.encoding != "auto":
        _check_encoding(form.encoding)
    if form.sheet and form.format not in ("auto", "xlsx"):
        raise contradiction(
            "sheet-without-workbook",
            f"a sheet name for a {form.format} file",
            allowed="a sheet only with format `xlsx` or `auto`",
            todo="take one of the two out",
            record="file.sheet",
        )


def _check_encoding(encoding: str) -> None:
    try:
        codecs.lookup(encoding)
    except LookupError:
        raise contradiction(
            "unknown-encoding",
            f"the encoding {encoding!r}",
            allowed="`auto` or an encoding that Python knows, such as `utf-8`, `cp1252`, `utf-16`",
            todo="correct the name",
            record="file.encoding",
        ) from None


def _check_layout(recipe: Recipe) -> None:
    wide = recipe.wide
    if (recipe.layout == "wide") != (wide is not None):
        raise contradiction(
            "layout-contradicts",
            f"the layout `{recipe.layout}` {'with' if wide else 'without'} a part [wide]",
            allowed="a part [wide] with the layout `wide`, and only then",
            todo='set `layout = "wide"`, or take the part out',
            record="layout",
        )
    if wide is None:
        return
    ways = (bool(wide.pairs), bool(wide.y and wide.z), bool(wide.grid is not None and wide.z))
    given = sum((bool(wide.pairs), bool(wide.y), wide.grid is not None))
    if sum(ways) != 1 or given != 1 or (wide.pairs and wide.z):
        raise contradiction(
            "layout-contradicts",
            "wide rows whose points cannot be found",
            allowed="`pairs`, or `y` and `z`, or `grid` and `z`",
            todo="give exactly one of the three",
            record="wide",
        )
    if recipe.columns.y is not None or recipe.columns.z is not None:
        raise contradiction(
            "layout-contradicts",
            "columns.y or columns.z in a recipe for wide rows",
            allowed="y and z in [wide] only",
            todo="take them out of [columns]",
            record="columns",
        )


def _check_labels(recipe: Recipe) -> None:
    in_name = set(re.findall(r"\{(\w+)\}", recipe.file_name))
    for label in LABELS:
        places = [
            place
            for place, given in (
                (f"columns.{label}", getattr(recipe.columns, label) is not None),
                (f"fixed.{label}", bool(getattr(recipe.fixed, label))),
                ("file_name", label in in_name),
            )
            if given
        ]
        if len(places) > 1:
            raise contradiction(
                "said-twice",
                f"the {label} given by {' and '.join(places)}",
                allowed="one place for each",
                todo="keep the right one",
                record=places[1],
            )
    left, right = (
        {w.strip().casefold() for w in words}
        for words in (recipe.side_values.left, recipe.side_values.right)
    )
    both = left & right
    if both or not (left and right):
        raise contradiction(
            "bad-value",
            f"words for the sides that do not tell them apart ({', '.join(sorted(both))})",
            allowed="at least one word for each side, none for both",
            todo="correct the words",
            record="side_values",
        )


def _check_names(recipe: Recipe) -> None:
    in_name = re.findall(r"\{(.*?)\}", recipe.file_name)
    unknown = [name for name in in_name if name not in LABELS]
    if len(set(in_name)) < len(in_name):
        raise contradiction(
            "said-twice",
            f"the file name pattern {recipe.file_name!r} with one part twice",
            allowed="each of asset, side, campaign and time once",
            todo="use `*` for parts that do not matter",
            record="file_name",
        )
    if unknown:
        raise contradiction(
            "unknown-key",
            f"the file name pattern holds {{{unknown[0]}}}",
            allowed=", ".join(f"{{{label}}}" for label in LABELS),
            todo="use `*` for parts that do not matter",
            record="file_name",
        )
    named = [
        field.name
        for field in msgspec.structs.fields(Columns)
        if isinstance(getattr(recipe.columns, field.name), str)
    ]
    by_name = recipe.wide is not None and re.search(
        r"[^\d\s,/-]", recipe.wide.pairs + recipe.wide.y + recipe.wide.z
    )
    if not recipe.file.header and (named or by_name):
        raise contradiction(
            "names-without-header",
            "columns given by name in a recipe for files without a header",
            allowed="column numbers, counted from 1",
            todo="write the numbers, or set `file.header = true`",
            record=f"columns.{named[0]}" if named else "wide",
        )


def _check_frame(recipe: Recipe) -> None:
    if recipe.kind == "wheel" and recipe.frame is not None:
        raise contradiction(
            "frame-contradicts",
            f"the frame `{recipe.frame}` for wheels",
            allowed="a frame for rails only",
            todo='take the frame out, or set `kind = "rail"`',
            record="frame",
        )


def contradiction(code: str, found: str, *, allowed: str, todo: str, record: str) -> RecipeRefused:
    """Return the refusal of a recipe at one of its keys."""
    return RecipeRefused(code, found, allowed=allowed, todo=todo, where=Where(record=record))
