"""Reading a recipe: TOML in, a checked `Recipe` out, every mistake named with its place."""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args, get_type_hints

import msgspec

from tapertread.errors import FileRefused, RecipeRefused, Where
from tapertread.shapes.recipe_fields import Columns, Part, Recipe

__all__ = ["LABELS", "Recipe", "check_recipe", "read_recipe", "recipe_from_text"]

LABELS = ("asset", "side", "campaign", "time")
"""What an outline is known by."""

DELIMITER_WORDS = {"tab": "\t", "whitespace": "whitespace", "auto": "auto"}


def read_recipe(path: Path | str) -> Recipe:
    """Return the checked recipe of a TOML file; its name is the file's where it gives none.

    Raises
    ------
    FileRefused
        If the file is missing or is not text.
    RecipeRefused
        If it is not TOML, holds an unknown key or a value that is not allowed, or contradicts
        itself.
    """
    path = Path(path)
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as fault:
        raise FileRefused(
            "unreadable-file",
            f"a recipe that cannot be opened ({fault.strerror})",
            allowed="a TOML file",
            todo="check its path and rights",
            where=Where(file=str(path)),
        ) from None
    except UnicodeDecodeError:
        raise FileRefused(
            "binary-file",
            "a recipe that is not UTF-8 text",
            allowed="a TOML file in UTF-8",
            todo="save the recipe as UTF-8 text",
            where=Where(file=str(path)),
        ) from None
    try:
        recipe = recipe_from_text(text)
    except RecipeRefused as refused:
        raise refused.at(file=str(path)) from None
    return recipe if recipe.name else msgspec.structs.replace(recipe, name=path.stem)


def recipe_from_text(text: str) -> Recipe:
    """Return the checked recipe of a TOML text.

    Raises
    ------
    RecipeRefused
        As `read_recipe`.
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise _not_toml(str(fault)) from None
    if "recipe" not in content:
        raise _refused(
            "recipe-version",
            "no line `recipe = 1`",
            allowed="version 1",
            todo="begin the file with `recipe = 1`",
            record="recipe",
        )
    for path, key, known in _unknown_keys(content, Recipe, ()):
        raise _unknown_key(path, key, known=known, text=text)
    try:
        recipe = msgspec.convert(content, Recipe)
    except msgspec.ValidationError as fault:
        raise _bad_value(str(fault), text) from None
    check_recipe(recipe)
    return recipe


def check_recipe(recipe: Recipe) -> None:
    """Refuse a recipe that contradicts itself.

    Raises
    ------
    RecipeRefused
        At the first contradiction, with the key.
    """
    for check in (_check_text, _check_layout, _check_labels, _check_names, _check_frame):
        check(recipe)


def _refused(
    code: str, found: str, *, allowed: str, todo: str, record: str = "", line: int | None = None
) -> RecipeRefused:
    where = Where(record=record or None, line=line)
    return RecipeRefused(code, found, allowed=allowed, todo=todo, where=where)


def _not_toml(message: str) -> RecipeRefused:
    place = re.search(r"\s*\(at line (\d+), column (\d+)\)", message)
    reason = message if place is None else message[: place.start()]
    return RecipeRefused(
        "bad-toml",
        f"text that is not TOML: {reason[:1].lower()}{reason[1:]}",
        allowed="TOML: `key = value` lines under `[part]` headings",
        todo="correct the text at this place",
        where=Where(
            line=int(place.group(1)) if place else None,
            column=place.group(2) if place else None,
        ),
    )


def _unknown_keys(
    content: dict[str, Any], part: type[Part], path: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], str, list[str]]]:
    known = [field.name for field in msgspec.structs.fields(part)]
    hints = get_type_hints(part)
    for key, value in content.items():
        if key not in known:
            yield path, key, known
        elif isinstance(value, dict):
            for inner in _parts_of(hints[key]):
                yield from _unknown_keys(value, inner, (*path, key))


def _parts_of(hint: Any) -> list[type[Part]]:
    if isinstance(hint, type) and issubclass(hint, Part):
        return [hint]
    return [part for inner in get_args(hint) for part in _parts_of(inner)]


def _line_of(path: tuple[str, ...], key: str, text: str) -> int | None:
    """Return the line where a key of a part stands, as far as plain TOML shows it."""
    heading: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if found := re.match(r"\s*\[\s*([\w.\s-]+?)\s*\]", line):
            heading = tuple(name.strip() for name in found.group(1).split("."))
            if heading == (*path, key):
                return number
        elif found := re.match(r"\s*([\w.-]+)\s*=", line):
            full = (*heading, *found.group(1).split("."))
            if full == (*path, key):
                return number
    return _line_of(path[:-1], path[-1], text) if path else None


def _unknown_key(path: tuple[str, ...], key: str, *, known: list[str], text: str) -> RecipeRefused:
    near = get_close_matches(key, known, n=1, cutoff=0.6)
    return _refused(
        "unknown-key",
        f"the unknown key `{'.'.join((*path, key))}`",
        allowed="the keys " + ", ".join(known),
        todo=f"write `{near[0]}`" if near else "take the key out or correct it",
        record=".".join((*path, key)),
        line=_line_of(path, key, text),
    )


def _bad_value(message: str, text: str) -> RecipeRefused:
    reason, _, place = message.partition(" - at `$.")
    keys = tuple(re.sub(r"\[.*", "", key) for key in place.rstrip("`").split("."))
    return _refused(
        "bad-value",
        f"a value that cannot be used: {reason[:1].lower()}{reason[1:]}",
        allowed=_allowed_words(keys) or "the values that docs/recipe.md lists for this key",
        todo="correct the value",
        record=".".join(keys),
        line=_line_of(keys[:-1], keys[-1], text),
    )


def _allowed_words(keys: tuple[str, ...]) -> str:
    """Return the words that a key accepts, or nothing where it takes any text or number."""
    part: type[Part] = Recipe
    for key in keys[:-1]:
        inner = _parts_of(get_type_hints(part).get(key, ()))
        if not inner:
            return ""
        part = inner[0]
    words = _literals(get_type_hints(part).get(keys[-1], ()))
    return ", ".join(f"`{word}`" for word in words)


def _literals(hint: Any) -> list[object]:
    found: list[object] = []
    for inner in get_args(hint):
        if isinstance(inner, str | int):
            found.append(inner)
        elif inner is bool:
            found.extend(("true", "false"))
        else:
            found.extend(_literals(inner))
    return found


def _check_text(recipe: Recipe) -> None:
    form = recipe.file
    if form.delimiter not in DELIMITER_WORDS and len(form.delimiter) != 1:
        raise _refused(
            "bad-delimiter",
            f"the delimiter {form.delimiter!r}",
            allowed="one character, `tab`, `whitespace` or `auto`",
            todo="name the sign that stands between two cells",
            record="file.delimiter",
        )
    if form.delimiter in (form.decimal if form.decimal != "auto" else ".", '"', "\n", "\r"):
        raise _refused(
            "bad-delimiter",
            f"the delimiter {form.delimiter!r} beside the decimal sign {form.decimal!r}",
            allowed="a delimiter that cannot stand within a cell",
            todo="correct one of the two",
            record="file.delimiter",
        )
    if form.encoding != "auto":
        _check_encoding(form.encoding)
    if form.sheet and form.format not in ("auto", "xlsx"):
        raise _refused(
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
        raise _refused(
            "unknown-encoding",
            f"the encoding {encoding!r}",
            allowed="`auto` or an encoding that Python knows, such as `utf-8`, `cp1252`, `utf-16`",
            todo="correct the name",
            record="file.encoding",
        ) from None


def _check_layout(recipe: Recipe) -> None:
    wide = recipe.wide
    if (recipe.layout == "wide") != (wide is not None):
        raise _refused(
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
        raise _refused(
            "layout-contradicts",
            "wide rows whose points cannot be found",
            allowed="`pairs`, or `y` and `z`, or `grid` and `z`",
            todo="give exactly one of the three",
            record="wide",
        )
    if recipe.columns.y is not None or recipe.columns.z is not None:
        raise _refused(
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
            raise _refused(
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
        raise _refused(
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
        raise _refused(
            "said-twice",
            f"the file name pattern {recipe.file_name!r} with one part twice",
            allowed="each of asset, side, campaign and time once",
            todo="use `*` for parts that do not matter",
            record="file_name",
        )
    if unknown:
        raise _refused(
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
        raise _refused(
            "names-without-header",
            "columns given by name in a recipe for files without a header",
            allowed="column numbers, counted from 1",
            todo="write the numbers, or set `file.header = true`",
            record=f"columns.{named[0]}" if named else "wide",
        )


def _check_frame(recipe: Recipe) -> None:
    if recipe.kind == "wheel" and recipe.frame is not None:
        raise _refused(
            "frame-contradicts",
            f"the frame `{recipe.frame}` for wheels",
            allowed="a frame for rails only",
            todo='take the frame out, or set `kind = "rail"`',
            record="frame",
        )
