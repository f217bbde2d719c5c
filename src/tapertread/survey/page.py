"""The documentation of a survey, made from what the code accepts: column tables and schemas.

``write_pages(folder)`` refreshes ``docs/survey.md`` between its two marks and writes the schemas;
a test fails where the files have grown stale.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec

from tapertread.railway import friction_states
from tapertread.survey.columns import Column, TableKind, table_kinds
from tapertread.survey.config import SurveyConfig

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
ROUTE_TABLES = ("route", "kilometres")
BEGIN = "<!-- columns: made by tapertread.survey.page, do not edit -->"
END = "<!-- end of columns -->"

_TYPES = {
    "number": "number",
    "count": "integer",
    "text": "string",
    "word": "string",
    "flag": "boolean",
    "date": "string",
}


def write_pages(folder: Path) -> None:
    """Refresh the page and the schemas in a documentation folder."""
    page = folder / "survey.md"
    page.write_text(refreshed(page.read_text(encoding="utf-8")), encoding="utf-8")
    for name, text in schema_texts().items():
        (folder / "schemas" / name).write_text(text, encoding="utf-8")


def refreshed(page: str) -> str:
    """Return a page with what stands between its two marks made anew."""
    head, _, rest = page.partition(BEGIN)
    _, _, tail = rest.partition(END)
    return f"{head}{BEGIN}\n{columns_text()}{END}{tail}"


def columns_text() -> str:
    """Return the reference of the configuration and of every table, as Markdown."""
    parts = [_config_text(), *(_table_text(kind) for kind in table_kinds().values())]
    return "\n" + "\n\n".join(parts) + "\n\n" + _friction_text() + "\n"


def schema_texts() -> dict[str, str]:
    """Return the published schemas by file name."""
    schemas = {
        "survey-1.json": _config_schema(),
        "route-1.json": _tables_schema("tapertread route tables, version 1", ROUTE_TABLES),
        "tables-1.json": _tables_schema(
            "tapertread survey tables, version 1",
            tuple(name for name in table_kinds() if name not in ROUTE_TABLES),
        ),
    }
    return {
        name: json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
        for name, schema in schemas.items()
    }


def _config_schema() -> Schema:
    schema = msgspec.json.schema(SurveyConfig)
    return {"$schema": DIALECT, "title": "tapertread survey.toml, version 1", **schema}


def _tables_schema(title: str, names: tuple[str, ...]) -> Schema:
    return {
        "$schema": DIALECT,
        "title": title,
        "type": "object",
        "properties": {
            name: {
                "type": "array",
                "description": table_kinds()[name].text,
                "items": _row_schema(table_kinds()[name]),
            }
            for name in names
        },
    }


def _row_schema(kind: TableKind) -> Schema:
    properties = {
        spelled: _cell_schema(column, spelled)
        for column in kind.columns.values()
        for spelled in column.spellings
    }
    needed = [
        {"anyOf": [{"required": [spelled]} for spelled in column.spellings]}
        for column in kind.columns.values()
        if column.required
    ]
    return {
        "type": "object",
        "properties": properties,
        "allOf": needed,
        "additionalProperties": False,
    }


def _cell_schema(column: Column, spelled: str) -> Schema:
    schema: Schema = {"type": _TYPES[column.meaning], "description": column.text}
    if column.words:
        schema["enum"] = list(column.words)
    if column.meaning == "date":
        schema["format"] = "date"
    if spelled != column.name:
        schema["description"] = f"Fills {column.name}, converted. {column.text}"
    elif column.low is not None and column.high is not None:
        schema |= {"minimum": column.low, "maximum": column.high}
    told = not column.required and column.default not in (None, "", float("inf"))
    return schema | {"default": column.default} if told and spelled == column.name else schema


def _config_text() -> str:
    rows = [
        f"| `{field.name}` | {_needed(field.required)} | {_description(field)} |"
        for field in msgspec.structs.fields(SurveyConfig)
    ]
    return "\n".join(["### survey.toml", "", "| key | needed | meaning |", "|---|---|---|", *rows])


def _description(field: msgspec.structs.FieldInfo) -> str:
    schema = msgspec.json.schema(SurveyConfig)["$defs"]["SurveyConfig"]["properties"]
    return str(schema[field.encode_name].get("description", "Version of the survey folder."))


def _needed(required: bool) -> str:
    return "yes" if required else "no"


def _table_text(kind: TableKind) -> str:
    rows = [
        f"| {_names(column)} | {_needed(column.required)} | {_meaning(column)} |"
        for column in kind.columns.values()
    ]
    key = ", ".join(f"`{field}`" for field in kind.key)
    return "\n".join(
        [
            f"### {kind.name}",
            "",
            f"{kind.text} One row for each {key}.",
            "",
            "| column | needed | meaning |",
            "|---|---|---|",
            *rows,
        ]
    )


def _names(column: Column) -> str:
    others = [spelled for spelled in column.spellings if spelled != column.name]
    return ", ".join(f"`{name}`" for name in (column.name, *others))


def _meaning(column: Column) -> str:
    parts = [column.text]
    if column.words:
        parts.append("One of " + ", ".join(f"`{word}`" for word in column.words) + ".")
    if column.low is not None and column.high is not None:
        parts.append(f"Believed from {column.low:g} to {column.high:g}.")
    if not column.required and column.default not in (None, ""):
        parts.append(f"Blank means {_plain(column.default)}.")
    return " ".join(parts)


def _plain(default: object) -> str:
    if isinstance(default, bool):
        return "no" if not default else "yes"
    if default == float("inf"):
        return "straight"
    return f"{default:g}" if isinstance(default, float) else str(default)


def _friction_text() -> str:
    rows = []
    for state in friction_states().values():
        known = state.low is not None and state.high is not None
        span = f"{state.low:g} to {state.high:g}" if known else "no figure found"
        status = state.mark or state.status
        rows.append(
            f"| `{state.name}` | {state.title} | {span} | {status} | `{state.source}` "
            f"| {state.note} |"
        )
    return "\n".join(
        [
            "### Friction states",
            "",
            "| state | meaning | coefficient | status | source | note |",
            "|---|---|---|---|---|---|",
            *rows,
        ]
    )
