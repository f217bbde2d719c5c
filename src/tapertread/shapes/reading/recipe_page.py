"""The reference pages of recipes and outline tables, made from what the code accepts.

``write_pages(folder)`` writes them; a test fails where the files in ``docs/`` have grown stale.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec

from tapertread.shapes.reading.header import KIND_BY_NAME, LABEL_NAMES, UNIT_WORDS
from tapertread.shapes.reading.recipe_fields import LENGTH_UNITS_MM, Part, Recipe

Schema = dict[str, Any]

_INTRODUCTION = """\
# Recipes, version 1

A recipe is a TOML file that says how one device, or one spreadsheet, writes outlines down. It is
needed only where the header does not say enough; see [outline tables](outline-tables.md) for what
is read without one. The same as a schema: [recipe-1.json](schemas/recipe-1.json). Runnable
examples with their tables: `examples/recipes/`.

A key that is not listed here is refused, and so is a recipe that contradicts its file: another
kind of file, a delimiter that is not there, a missing column, another unit than in the header.

## A recipe to begin with

```toml
recipe = 1
name = "depot gauge, spreadsheet export"
kind = "wheel"
stylus_radius_mm = 1.5      # the recorded points are ball centres

[file]
delimiter = ";"
decimal = ","
skip_lines = 2

[columns]
y = "Across"                # a name of the header ...
z = 4                       # ... or a number, counted from 1
asset = "Wheelset"
side = "Wheel"
time = "Measured on"

[units]
y = "mm"
z = "mm"

[axes]
flip_z = true               # the device counts downward
origin_y_mm = -70.0         # its origin is the flange back

[side_values]
left = ["L", "1"]
right = ["R", "2"]
```

The unit that a caller states (`--units`) beats both header and recipe.
"""


def recipe_schema() -> Schema:
    """Return the JSON schema of recipes, version 1."""
    schema = msgspec.json.schema(Recipe)
    schema["$defs"]["Recipe"]["required"] = ["recipe"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "tapertread recipe, version 1",
        **schema,
    }


def outline_table_schema() -> Schema:
    """Return what a long table of outlines may hold: columns, names, units, version 1."""
    units = {
        unit: {"mm": factor, "words": sorted(w for w, u in UNIT_WORDS.items() if u == unit)}
        for unit, factor in LENGTH_UNITS_MM.items()
    }
    return {
        "title": "tapertread outline table (long form), version 1",
        "points": {
            name: {"required": True, "name": f"{name}_UNIT, {name} [UNIT], {name} (UNIT)"}
            for name in ("y", "z")
        },
        "units": units,
        "labels": {label: {"names": list(names)} for label, names in LABEL_NAMES.items()},
        "kind_by_asset_column": dict(KIND_BY_NAME),
    }


def recipe_page() -> str:
    """Return the reference page of recipes as Markdown."""
    parts: list[tuple[str, type[Part]]] = [("", Recipe), *_parts(Recipe)]
    return "\n".join([_INTRODUCTION, *(_section(name, part) for name, part in parts)])


def write_pages(folder: Path) -> None:
    """Write the generated pages and schemas into a ``docs`` folder."""
    for name, text in pages().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


def pages() -> dict[str, str]:
    """Return the text of each generated file, by its path within ``docs``."""
    return {
        "recipe.md": recipe_page(),
        "schemas/recipe-1.json": _as_json(recipe_schema()),
        "schemas/outline-table-1.json": _as_json(outline_table_schema()),
    }


def _as_json(content: Schema) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"


def _parts(part: type[Part], prefix: str = "") -> list[tuple[str, type[Part]]]:
    """Return the parts within a part, by their TOML heading, in the order of the fields."""
    found: list[tuple[str, type[Part]]] = []
    for field in msgspec.structs.fields(part):
        for inner in _structs(msgspec.inspect.type_info(field.type)):
            name = f"{prefix}{field.name}"
            found.extend([(name, inner), *_parts(inner, f"{name}.")])
    return found


def _structs(info: msgspec.inspect.Type) -> list[type[Part]]:
    if isinstance(info, msgspec.inspect.Metadata):
        return _structs(info.type)
    if isinstance(info, msgspec.inspect.UnionType):
        return [part for inner in info.types for part in _structs(inner)]
    if isinstance(info, msgspec.inspect.StructType) and issubclass(info.cls, Part):
        return [info.cls]
    return []


def _section(name: str, part: type[Part]) -> str:
    about = " ".join((part.__doc__ or "").split())
    heading = f"## [{name}]" if name else "## At the top"
    rows = [
        f"| `{field.name}` | {_type(field)} | {_default(field)} | {_meaning(field)} |"
        for field in msgspec.structs.fields(part)
    ]
    table = "\n".join(["| key | takes | without it | meaning |", "|---|---|---|---|", *rows])
    return f"{heading}\n\n{about}\n\n{table}\n"


def _meaning(field: msgspec.structs.FieldInfo) -> str:
    return str(_schema_of(field)["description"])


def _schema_of(field: msgspec.structs.FieldInfo) -> Schema:
    return msgspec.json.schema(field.type)


def _type(field: msgspec.structs.FieldInfo) -> str:
    return _words(_schema_of(field))


def _words(schema: Schema) -> str:
    """Return a schema in the words of the reference page."""
    if "anyOf" in schema:
        return " or ".join(dict.fromkeys(filter(None, map(_words, schema["anyOf"]))))
    if "enum" in schema:
        values = [value for value in schema["enum"] if value is not None]
        return ", ".join(f"`{value}`" for value in values)
    if "$ref" in schema:
        return "a part"
    kind = schema.get("type", "")
    if kind == "array":
        return f"list of {_words(schema['items'])}s"
    floor = f" from {schema['minimum']:g}" if "minimum" in schema else ""
    words = {"string": "text", "integer": "whole number", "number": "number"}
    return {"boolean": "`true`, `false`", "null": ""}.get(kind, f"{words.get(kind, kind)}{floor}")


def _default(field: msgspec.structs.FieldInfo) -> str:
    value = field.default
    if field.required or field.name == "recipe":
        return "refused"
    if isinstance(value, Part):
        return "its own"
    if value is None or value in ("", ()):
        return "—"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f"`{', '.join(value) if isinstance(value, tuple) else value}`"
