"""What a command answers: one strict JSON object, or text for a person, and the exit status."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

import click

from tapertread.errors import RefusedInput
from tapertread.sources import all_sources, bibliography

DONE, REFUSED = 0, 1
STATED = "stated by the user"
"""Status of a source that a user's own drawing names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a command found.

    Attributes
    ----------
    data : mapping
        For JSON; its ``notes`` say why a value is missing.
    text : str
        The same for a person.
    status : int
        Exit status: 0 done, 1 some input was refused.
    """

    data: Mapping[str, object]
    text: str
    status: int = DONE


def answer_json(data: Mapping[str, object]) -> str:
    """Return one JSON object; numbers that are not finite become ``null`` with a line in ``notes``.

    A note that begins with keys (``KEY, KEY: why``) speaks for them and for all that lies in them;
    only keys without such a note get one of their own.
    """
    lost: list[str] = []
    plain = {key: _plain(value, key, lost) for key, value in data.items()}
    notes = list(plain.get("notes") or [])
    spoken_for = {key for note in notes for key in note.partition(":")[0].split(", ")}
    notes += [
        f"{key}: null where there is no finite number"
        for key in dict.fromkeys(lost)
        if spoken_for.isdisjoint(_with_parents(key))
    ]
    return json.dumps({**plain, "notes": notes}, ensure_ascii=False, allow_nan=False)


def _with_parents(key: str) -> list[str]:
    """Return a dotted key and the keys that it lies in."""
    parts = key.split(".")
    return [".".join(parts[:end]) for end in range(1, len(parts) + 1)]


def _plain(value: Any, key: str, lost: list[str]) -> Any:
    """Return a value as JSON carries it; keys of numbers that are not finite join `lost`."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, float) and not math.isfinite(value):
        lost.append(key)
        return None
    if isinstance(value, Mapping):
        return {str(k): _plain(v, f"{key}.{k}", lost) for k, v in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(v, key, lost) for v in value]
    return str(value) if isinstance(value, PurePath) else value


def sources_listed(
    keys: Iterable[str], *, of_shapes: Iterable[str] = ()
) -> list[dict[str, str | None]]:
    """Return the bibliography of what an answer rests on.

    Parameters
    ----------
    keys : iterable of str
        Keys of the bibliography.
    of_shapes : iterable of str
        What the shapes name as their sources: keys, or a user's own words for a drawing. Own words
        have no key.

    Raises
    ------
    SourceUnknown
        If one of `keys` has no entry.
    """
    named, known = set(of_shapes), set(all_sources())
    listed: list[dict[str, str | None]] = [
        {"key": one.key, "text": str(one), "status": one.status}
        for one in bibliography({*keys, *(named & known)})
    ]
    own = sorted(named - known)
    return [*listed, *({"key": None, "text": text, "status": STATED} for text in own)]


def give(answer: Answer, *, as_json: bool) -> None:
    """Print an answer on standard output, as one JSON object or as text."""
    click.echo(answer_json(answer.data) if as_json else answer.text)


def give_refusal(refused: RefusedInput, *, as_json: bool) -> None:
    """Say on standard error what was refused; with JSON also on standard output."""
    click.echo(f"Refused: {refused}", err=True)
    if as_json:
        click.echo(json.dumps({"refused": refused.to_dict()}, ensure_ascii=False, allow_nan=False))
