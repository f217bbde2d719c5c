"""``survey.toml``: what a survey is called, how it is shown, which limits it is held to."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from tapertread.errors import FileRefused, SurveyRefused, Where
from tapertread.limits import Override, limit_set_names
from tapertread.units import UnitSystem

CONFIG_NAME = "survey.toml"

GaugeRule = Literal["smallest-0-14-mm", "at-five-eighths-inch"]


class OverrideEntry(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A limit value of the user's own; both its document and its reason must be named."""

    id: Annotated[str, Meta(description="Identifier of the limit, as the list of limits shows it.")]
    value: Annotated[float, Meta(description="Value, in the inside unit of the limit (mm, deg …).")]
    edition: Annotated[str, Meta(description="Document that the value stands in.")]
    why: Annotated[str, Meta(description="Why it stands in for the published value.")]


class SurveyConfig(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What ``survey.toml`` says."""

    survey: Annotated[Literal[1], Meta(description="Version of the survey folder.")]
    name: Annotated[str, Meta(min_length=1, description="Name of the survey.")]
    invented: Annotated[
        bool, Meta(description="True for made-up data; every page then says so.")
    ] = False
    units: Annotated[UnitSystem, Meta(description="How quantities are shown: metric or us.")] = (
        "metric"
    )
    limits: Annotated[
        tuple[str, ...],
        Meta(min_length=1, description="Limit sets that verdicts use: names or .toml files."),
    ]
    gauge_rule: Annotated[
        GaugeRule | None,
        Meta(description="Where gauge is measured; without it the limit set's own rule holds."),
    ] = None
    override: Annotated[
        tuple[OverrideEntry, ...], Meta(description="Limit values of the user's own.")
    ] = ()
    note: Annotated[str, Meta(description="Anything that readers should know.")] = ""

    @property
    def overrides(self) -> tuple[Override, ...]:
        """The user's own limit values, as the limits room takes them."""
        return tuple(
            Override(id=one.id, value=one.value, edition=one.edition, why=one.why)
            for one in self.override
        )


def read_config(folder: Path) -> SurveyConfig:
    """Read the ``survey.toml`` of a folder.

    Raises
    ------
    FileRefused
        ``no-survey`` where there is none, ``bad-toml`` where it is not TOML.
    SurveyRefused
        ``survey-version``, ``bad-value``, ``unknown-limit-set``.
    """
    path = folder / CONFIG_NAME
    try:
        return config_from_text(path.read_text(encoding="utf-8"), folder=folder)
    except SurveyRefused as fault:
        raise fault.at(file=str(path)) from None
    except FileRefused as fault:
        raise fault.at(file=str(path)) from None
    except (OSError, UnicodeDecodeError):
        raise FileRefused(
            "no-survey",
            f"no {CONFIG_NAME} that can be read",
            allowed=f"a survey folder, which holds {CONFIG_NAME}",
            todo="name the survey's folder, or write the file (see docs/survey.md)",
            where=Where(file=str(path)),
        ) from None


def config_from_text(text: str, *, folder: Path) -> SurveyConfig:
    """Return the configuration written in a text; `folder` is where limit files are looked for.

    Raises
    ------
    FileRefused, SurveyRefused
        As `read_config`.
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise _not_toml(str(fault)) from None
    if content.get("survey") != 1:
        raise SurveyRefused(
            "survey-version",
            f"survey = {content.get('survey')!r}",
            allowed="the line `survey = 1`",
            todo="begin the file with `survey = 1`",
            where=Where(column="survey"),
        )
    try:
        config = msgspec.convert(content, SurveyConfig)
    except msgspec.ValidationError as fault:
        raise _bad_value(str(fault)) from None
    _check(config, folder)
    return config


def _check(config: SurveyConfig, folder: Path) -> None:
    for name in config.limits:
        own = name.endswith(".toml") and (folder / name).is_file()
        if name not in limit_set_names() and not own:
            raise SurveyRefused(
                "unknown-limit-set",
                f"the limit set {name!r}",
                allowed=f"{', '.join(limit_set_names())}, or a .toml file in the folder",
                todo="correct the name",
                where=Where(column="limits"),
            )
    for entry in config.override:
        if not math.isfinite(entry.value):
            raise _bad_value(f"the value {entry.value} of the override {entry.id}")


def _not_toml(message: str) -> FileRefused:
    place = re.search(r"\(at line (\d+), column \d+\)", message)
    return FileRefused(
        "bad-toml",
        f"text that is not TOML: {message}",
        allowed="TOML: `key = value` lines",
        todo="correct the text at this place",
        where=Where(line=int(place.group(1)) if place else None),
    )


def _bad_value(message: str) -> SurveyRefused:
    reason, _, place = message.partition(" - at `$.")
    return SurveyRefused(
        "bad-value",
        f"something that cannot be used: {reason[:1].lower()}{reason[1:]}",
        allowed="the keys and values that docs/survey.md lists",
        todo="correct it",
        where=Where(column=place.rstrip("`") or None),
    )
