"""``tapertread list``: designs, limits and sources with their status."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import Literal

import click

from tapertread.cli.answers import Answer
from tapertread.cli.house_command import house_command
from tapertread.cli.wording import paragraphs
from tapertread.limits import Limit, LimitSet, limit_set, limit_set_names
from tapertread.shapes.designs import DesignInfo, all_designs
from tapertread.sources import Source, all_sources

What = Literal["designs", "limits", "sources"]


KEYS = {
    "designs": "list designs: name, kind, status, sources, note, options; why not buildable",
    "limits": "list limits: each set with its caution, its limits and what it has no limit for",
    "sources": "list sources: key, authors, title, where, year, status, note",
    "notes": "empty",
}


@house_command("list", example="tapertread list designs", keys=KEYS)
@click.argument("what", type=click.Choice(["designs", "limits", "sources"]))
def command(what: What) -> Answer:
    """List designs, limits or sources with their status.

    The status says how figures were come by: what is doubtful, recalled or common practice is
    marked, and what was not found is listed with the reason and never built.
    """
    return _LISTS[what]()


def _designs() -> Answer:
    every = list(all_designs().values())
    return Answer(
        data={"designs": [one.to_dict() for one in every], "notes": []},
        text=paragraphs(*(_headed(kind, every) for kind in ("wheel", "rail"))),
    )


def _headed(kind: str, every: Iterable[DesignInfo]) -> str:
    lines = [_design_line(one) for one in every if one.kind == kind]
    return "\n".join([f"{kind.capitalize()}s", *lines])


def _design_line(info: DesignInfo) -> str:
    options = f" (options: {', '.join(info.options)})" if info.options else ""
    why = f": {info.reason}" if info.reason else ""
    return f"  {info.name:<24} {info.status}{why}{options}"


def _limits() -> Answer:
    sets = [limit_set(name) for name in limit_set_names()]
    return Answer(
        data={"limits": [_set_dict(one) for one in sets], "notes": []},
        text=paragraphs(*(_set_text(one) for one in sets)),
    )


def _set_dict(limits: LimitSet) -> dict[str, object]:
    return {
        "name": limits.name,
        "title": limits.title,
        "caution": limits.caution,
        "limits": [asdict(limit) for limit in limits],
        "absent": [{"quantity": row.quantity, "why": row.why} for row in limits.absent],
    }


def _set_text(limits: LimitSet) -> str:
    lines = [_limit_line(limit) for limit in limits]
    return "\n".join([f"{limits.name}: {limits.title}", f"  {limits.caution}", *lines])


_ALLOWED = {"min": ">=", "max": "<=", "above": ">", "below": "<"}


def _limit_line(limit: Limit) -> str:
    allowed = f"{limit.quantity} {_ALLOWED[limit.sense]} {limit.value:g} {limit.unit}".rstrip()
    where = ", ".join(part for part in (limit.edition, limit.clause) if part)
    return f"  {limit.id}: {allowed} ({limit.level}; {where}; {limit.standing})"


def _sources() -> Answer:
    every = list(all_sources().values())
    return Answer(
        data={"sources": [asdict(one) for one in every], "notes": []},
        text="\n".join(_source_line(one) for one in every),
    )


def _source_line(one: Source) -> str:
    return f"[{one.key}] {one}"


_LISTS: dict[What, Callable[[], Answer]] = {
    "designs": _designs,
    "limits": _limits,
    "sources": _sources,
}
