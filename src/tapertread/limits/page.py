"""The page ``docs/limits.md``: every limit with edition, clause and status, made from the data.

Run ``python -m tapertread.limits.page > docs/limits.md`` after a change of ``data/limits``.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

from tapertread.limits.sets import LimitSet, limit_set, limit_set_names
from tapertread.limits.verdicts import Limit
from tapertread.sources import source

_HEAD = """# Limits

Made from `src/tapertread/data/limits`; do not edit by hand.

**Before you rely on any of them.** These values support a decision, they never make one. A limit is
valid only for the edition, gauge, diameter class, speed and country named. Local rules, the owner's
standards and licensed or authorised persons decide; nothing here is a clearance to run.

Status words: `VERIFIED` was seen in a public text; `MEMORY` was recalled and not seen, with how
sure (high, medium, low); `DERIVED` was worked out from a verified value; `common practice, no
source` marks the house levels of this tool, which are nobody's rule; `stated by the user` is for
your own documents, with `source = "owner-rule"`.

Allowed: `>=` and `<=` allow the limit value itself; `>` and `<` make the limit value a defect
("or less", "or more").

## How a verdict is reached

The value with its expanded uncertainty (k = 2) is held against every limit that applies, of every
set the survey names; the gravest word decides.

- All of it allowed: go on to the act and watch levels, against which the value alone is held. Only
  where an expanded uncertainty of more than half the level reaches back over it, a value beyond a
  level says *measure again*.
- All of it forbidden: *out of limit*. Neither: *measure again*.
- No value, no limit, or a condition that is not known and could make the word graver: *not
  assessed*, with the reason.
- A reading without uncertainty is never sound: *not assessed* on the allowed side, *measure again*
  beyond a limit or a level, to be treated as out of limit meanwhile.

## Your own values

A survey overrides any row by its id; the verdict then shows `user override` and the value replaced.

```toml
[[override]]
id = "eu-tread-hollow-act"
value = 2.5
edition = "Our wheel standard, issue 4"
why = "agreed with the owner of the track"
```

A whole set of your own is a TOML file in the same layout: `name`, `title`, `caution`, optional
`nominal_gauge_mm` and `gauge_rule`, then

- `[[limit]]`: `id`, `quantity` (see `glossary.md`), `sense` (`min`, `max`, `above`, `below`),
  `value`, `unit` (a suffix of the glossary, or empty), `edition`, `clause`, `source`, `status`;
  optional `level` (`limit`, `act`, `watch`), `confidence`, `applies`, `stated`, `note`, `when`.
- `[[level]]`: `level` (`act` or `watch`), `of` (ids), and either `share` of the way from `new` to
  the limit, or `margin` ahead of it; optional `edition`, `source`, `status`.
- `[[absent]]`: `quantity`, `why`, optional `when`.
- `[[class_speed]]`: `track_class`, `freight_mph`, `passenger_mph`, `clause`.

`when` names conditions: a range with `from` or `over` and `upto` or `below` (`from` and `upto`
include the value), or words with `is` or `not`. A condition that is not known is never guessed: the
verdict is then *not assessed* and says what it needs.
"""

_ALLOWED = {"min": ">=", "max": "<=", "above": ">", "below": "<"}


def limits_page() -> str:
    """Return the whole page as Markdown."""
    parts = [_HEAD, *(_set_section(limit_set(name)) for name in limit_set_names())]
    return "\n".join(parts)


def _set_section(limits: LimitSet) -> str:
    lines = [f"## {limits.name}", "", limits.title + ".", "", f"**Caution.** {limits.caution}", ""]
    lines += ["| id | quantity | allowed | level | applies | edition, clause | status |"]
    lines += ["|---|---|---|---|---|---|---|"]
    lines += [_row(limit) for limit in limits]
    if limits.absent:
        lines += ["", "Without a limit here:", ""]
        lines += [f"- `{row.quantity}`: {row.why}." for row in limits.absent]
    if limits.class_speeds:
        lines += [
            "",
            "| track class | freight, mph | passenger, mph | clause |",
            "|---|---|---|---|",
        ]
        lines += [
            f"| {row.track_class} | {_mph(row.freight_mph)} | {_mph(row.passenger_mph)} "
            f"| {row.clause} |"
            for row in limits.class_speeds
        ]
    lines += ["", "Sources:", "", *_sources(limits), ""]
    return "\n".join(lines)


def _row(limit: Limit) -> str:
    unit = f" {limit.unit}" if limit.unit else ""
    stated = f" ({limit.stated})" if limit.stated else ""
    place = limit.edition if limit.clause in ("", "none") else f"{limit.edition}, {limit.clause}"
    applies = "; ".join(part for part in (limit.applies, limit.note) if part)
    cells = (
        f"`{limit.id}`",
        f"`{limit.quantity}`",
        f"{_ALLOWED[limit.sense]} {limit.value:.6g}{unit}{stated}",
        limit.level,
        applies,
        place,
        limit.standing,
    )
    return "| " + " | ".join(cells) + " |"


def _sources(limits: Iterable[Limit]) -> list[str]:
    keys = sorted({limit.source for limit in limits})
    return [f"- `{key}` {source(key)}" for key in keys]


def _mph(value: float | None) -> str:
    return "not allowed" if value is None else f"{value:g}"


if __name__ == "__main__":
    sys.stdout.write(limits_page())
