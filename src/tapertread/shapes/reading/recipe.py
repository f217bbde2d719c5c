"""Reading a recipe: TOML in, a checked `Recipe` out, every mistake named with its place."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args, get_type_hints

import msgspec

from tapertread.errors import FileRefused, RecipeRefused, Where
from tapertread.shapes.reading.recipe_checks import check_recipe
from tapertread.shapes.reading.recipe_fields import LABELS, Part, Recipe

__all__ = ["LABELS", "Recipe", "check_recipe", "read_recipe", "recipe_from_text"]


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
