"""Shipped designs: drawing files in ``data/designs`` with source and status, found by name.

Profiles that are known but of which no geometry was found are listed with the reason and never
built (``data/profiles-not-found.toml``).
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from tapertread.errors import DrawingRefused, WrongUsage
from tapertread.shapes.drawing.curve import Drawing, drawing_from_text
from tapertread.shapes.outline import Kind, Origin, Outline

DEFAULT_STEP_MM = 0.1
_SUREST_FIRST = ("closed", "constructed", "doubtful", "not found")


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignInfo:
    """What is known of a design.

    Attributes
    ----------
    name : str
        Stable name.
    kind : {"wheel", "rail"}
    status : str
        ``closed``, ``constructed``, ``doubtful``; ``not found`` where it cannot be built.
    sources : tuple of str
        Keys of `tapertread.sources`.
    note : str
        What a reader must know; for a profile not found, what is known of it.
    options : tuple of str
        Options that `design` takes for it.
    reason : str
        Why it cannot be built; empty where it can.
    """

    name: str
    kind: Kind
    status: str
    sources: tuple[str, ...]
    note: str
    options: tuple[str, ...] = ()
    reason: str = ""

    @property
    def buildable(self) -> bool:
        """Whether `design` can build it."""
        return not self.reason

    @property
    def label(self) -> str:
        """Name with the mark of a doubtful shape, as every page must show it."""
        return Origin(name=self.name, status=self.status).label

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON."""
        return {**asdict(self), "label": self.label, "buildable": self.buildable}


def _with_radius(drawing: Drawing, radius_mm: float) -> Drawing:
    """Return a tube of another radius (mm)."""
    curvature_per_mm = float(drawing.curvature_per_mm(0.0)[0])
    return drawing.scaled(radius_mm * curvature_per_mm)


_OPTIONS: dict[str, dict[str, Callable[[Drawing, float], Drawing]]] = {
    "tube": {"radius_mm": _with_radius}
}


@cache
def _texts() -> dict[str, tuple[str, dict[str, Any]]]:
    """Return text and content of every shipped drawing file by the design's name."""
    folder = files("tapertread.data").joinpath("designs")
    found = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            text = entry.read_text(encoding="utf-8")
            content = tomllib.loads(text)
            found[content["name"]] = (text, content)
    return found


@cache
def all_designs() -> dict[str, DesignInfo]:
    """Return what is known of every design by name: wheels before rails, the surest first."""
    built = [_info(content) for _, content in _texts().values()]
    text = files("tapertread.data").joinpath("profiles-not-found.toml").read_text(encoding="utf-8")
    missing = [_missing(name, entry) for name, entry in tomllib.loads(text).items()]
    return {info.name: info for info in sorted(built + missing, key=_order)}


def _order(info: DesignInfo) -> tuple[bool, int, list[tuple[int, str]]]:
    """Order by kind, by how sure the figures are, and by name with its numbers as numbers."""
    parts = re.findall(r"\d+|\D+", info.name.lower())
    name = [(int(part), "") if part.isdigit() else (0, part) for part in parts]
    return info.kind != "wheel", _SUREST_FIRST.index(info.status), name


def _info(content: dict[str, Any]) -> DesignInfo:
    return DesignInfo(
        name=content["name"],
        kind=content["kind"],
        status=content["status"],
        sources=tuple(content["sources"]),
        note=content["note"],
        options=tuple(_OPTIONS.get(content["name"], {})),
    )


def _missing(name: str, entry: dict[str, Any]) -> DesignInfo:
    return DesignInfo(
        name=name,
        kind=entry["kind"],
        status="not found",
        sources=tuple(entry.get("sources", ())),
        note=entry["known"],
        reason=entry["reason"],
    )


def design_names(kind: Kind | None = None) -> list[str]:
    """Return the names of the designs that can be built, of one kind or of both."""
    return [
        name
        for name, info in all_designs().items()
        if info.buildable and (kind is None or info.kind == kind)
    ]


def design_called(name: str) -> str | None:
    """Return the name of the design that is meant, upper or lower case alike, or ``None``."""
    known = all_designs()
    if name in known:
        return name
    return {key.lower(): key for key in known}.get(name.lower())


def design_info(name: str) -> DesignInfo:
    """Return what is known of a design, also of one that cannot be built; case does not matter.

    Raises
    ------
    DrawingRefused
        If the name is unknown; near matches are named.
    """
    known = all_designs()
    called = design_called(name)
    if called is not None:
        return known[called]
    by_lower = {key.lower(): key for key in known}
    near = difflib.get_close_matches(name.lower(), by_lower, n=3, cutoff=0.6)
    raise DrawingRefused(
        "unknown-design",
        f"no design named {name!r}",
        allowed=", ".join(key for key in known if known[key].buildable),
        todo=f"try {', '.join(by_lower[key] for key in near)}"
        if near
        else "choose one of these, or give a drawing file",
    )


def design_drawing(name: str, **options: float) -> Drawing:
    """Return the exact drawing of a design.

    Parameters
    ----------
    name : str
        One of `design_names`.
    **options : float
        What `DesignInfo.options` names: ``radius_mm`` for ``tube``.

    Raises
    ------
    DrawingRefused
        If the name is unknown, or known without geometry.
    WrongUsage
        If the design has no such option, or its value cannot be.
    """
    info = design_info(name)
    name = info.name
    if not info.buildable:
        raise DrawingRefused(
            "not-buildable",
            f"the profile {name}: {info.reason}",
            allowed=", ".join(design_names(info.kind)),
            todo="enter the owner's drawing as a drawing file (docs/drawing.md)",
        )
    drawing = _built(name)
    for option, value in options.items():
        change = _OPTIONS.get(name, {}).get(option)
        if change is None:
            known = ", ".join(info.options) or "none"
            raise WrongUsage(f"{name} has no option {option!r}; its options: {known}")
        if not 0.0 < value < float("inf"):
            raise WrongUsage(f"{option} = {value} for {name}: a positive number is needed")
        drawing = change(drawing, value)
    return drawing


@cache
def _built(name: str) -> Drawing:
    return drawing_from_text(_texts()[name][0], file=f"designs/{name}")


def design(name: str, *, step_mm: float = DEFAULT_STEP_MM, **options: float) -> Outline:
    """Return the outline of a design, with points at most `step_mm` (mm) apart.

    Options and refusals as in `design_drawing`.
    """
    return design_drawing(name, **options).outline(step_mm)


def __getattr__(name: str) -> Any:
    """Return ``DESIGNS``, the same as `all_designs`, read when first asked for."""
    if name == "DESIGNS":
        return all_designs()
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
