"""A measured value beside its limit, on one short scale."""

from __future__ import annotations

from tapertread.limits.verdicts import Limit, Verdict
from tapertread.report.figures.words import in_shown, with_unit
from tapertread.report.palette import MARKS
from tapertread.report.plots import markers, note_text
from tapertread.report.scales import Box, Panel, axis, fixed_axis
from tapertread.report.svg import document, number, path, rectangle
from tapertread.report.values import limit_text
from tapertread.units import UnitSystem

WIDTH, HEIGHT = 440.0, 78.0
BOX = Box(x=6.0, y=26.0, width=428.0, height=22.0)


def verdict_scale(verdict: Verdict, *, words: str = "", system: UnitSystem = "metric") -> str:
    """Return the value with its expanded uncertainty against the limit; the forbidden side hatched.

    Returns an empty string where there is no value or no limit: then there is nothing to compare.

    Parameters
    ----------
    verdict : Verdict
        Word, value and limit.
    words : str
        Name of the measure.
    system : {"metric", "us"}
        Units written.
    """
    measured, limit = verdict.measured, verdict.limit
    if measured.value is None or limit is None:
        return ""
    value, half, bound = (
        float(in_shown(v, limit.unit, system))
        for v in (measured.value, measured.expanded or 0.0, limit.value)
    )
    along = axis(
        "", [value - half, value + half, bound], about=6, margin=0.35 if value != bound else 0.6
    )
    panel = Panel(box=BOX, along=along, up=fixed_axis("", 0.0, high=1.0))
    parts = [
        rectangle(BOX.x, BOX.y, width=BOX.width, height=BOX.height, fill="panel"),
        _forbidden(panel, limit, bound),
        _bound(panel, limit, bound, system),
        _value(panel, verdict, value, half),
        _numbers(panel, with_unit("", limit.unit, system).removeprefix(", ")),
    ]
    told = f"{verdict.word.value}: {value:.3f} ± {half:.3f} against {bound:.3f} in the unit shown."
    name = f"{words}: value and limit" if words else "Value and limit"
    return document(name, told, width=WIDTH, height=HEIGHT, parts=parts)


def _forbidden(panel: Panel, limit: Limit, bound: float) -> str:
    """Hatch the side beyond the limit."""
    edge = float(panel.x(bound))
    low_side = limit.sense in ("min", "above")
    left, right = (BOX.x, edge) if low_side else (edge, BOX.right)
    strokes, x = [], left + 4.0
    while x + 7.0 <= right:
        strokes.append(f"M{number(x)} {number(BOX.bottom - 4)}l7-14")
        x += 8.0
    return path("".join(strokes), stroke="out", width=1.0, stroke_opacity=0.55)


def _bound(panel: Panel, limit: Limit, bound: float, system: UnitSystem) -> str:
    x = float(panel.x(bound))
    rule = path(f"M{number(x)} {number(BOX.y - 6)}v{number(BOX.height + 6)}", stroke="out", width=2)
    near_right = x > BOX.x + 0.6 * BOX.width
    words = limit_text(limit, system=system)
    anchor = "end" if near_right else "start"
    return rule + note_text(x, BOX.y - 11, words=words, role="out", anchor=anchor)


def _value(panel: Panel, verdict: Verdict, value: float, half: float) -> str:
    role = MARKS[verdict.word].role
    y = BOX.y + BOX.height / 2
    low, high = (float(v) for v in panel.x([value - half, value + half]))
    bar = path(f"M{number(low)} {number(y)}H{number(high)}", stroke="ink", width=2.4)
    d = f"M{number(low)} {number(y - 5)}v10M{number(high)} {number(y - 5)}v10"
    ends = path(d, stroke="ink", width=1.6)
    return bar + ends + markers(panel.x([value]), [y], shape="diamond", role=role)


def _numbers(panel: Panel, unit: str) -> str:
    axis_ = panel.along
    texts = [
        note_text(x, BOX.bottom + 15, words=axis_.tick_text(v), role="soft", anchor="middle")
        for v, x in zip(axis_.ticks, panel.x(axis_.ticks).tolist(), strict=True)
        if BOX.x + 16 < x < BOX.right - 34
    ]
    ticks = "".join(f"M{number(x)} {number(BOX.bottom)}v4" for x in panel.x(axis_.ticks))
    label = note_text(BOX.right, BOX.bottom + 15, words=unit, role="soft", anchor="end")
    return path(ticks, stroke="soft", width=1.0) + "".join(texts) + label
