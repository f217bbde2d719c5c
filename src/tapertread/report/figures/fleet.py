"""The fleet: every wheelset as a row, every measure as a lane, both wheels as arrowheads."""

from __future__ import annotations

from collections.abc import Sequence

from tapertread.limits.verdicts import Limit, Word
from tapertread.report.figures.curves import LOOKS
from tapertread.report.figures.words import in_shown, measure_unit, measure_words, with_unit
from tapertread.report.inputs import WheelsetLike
from tapertread.report.plots import Key, clipped, legend, markers, note_text, verdict_legend
from tapertread.report.scales import Box, Panel, axis, fixed_axis
from tapertread.report.svg import document, number, path, text, verdict_marks
from tapertread.units import UnitSystem

WIDTH, NAMES, ROW = 900.0, 128.0, 14.0
MEASURES = ("flange_thickness_mm", "flange_height_mm", "tread_hollow_mm", "equivalent_conicity")
MOST_ROWS = 72
BESIDE = 2.4
"""So far left is drawn above and right below the middle of a row, so that equals stay seen."""


def fleet_picture(
    wheelsets: Sequence[WheelsetLike],
    *,
    measures: tuple[str, ...] = MEASURES,
    limits: Sequence[Limit] = (),
    system: UnitSystem = "metric",
) -> str:
    """Return every wheelset's verdict and measures, gravest first within each fleet.

    More than `MOST_ROWS` wheelsets: the gravest are drawn, the number left out is written.

    Parameters
    ----------
    wheelsets : sequence of WheelsetLike
        At least one.
    measures : tuple of str
        Lanes; the measures of one wheel are looked up with ``.left`` and ``.right``.
    limits : sequence of Limit
        Those of the lanes' measures are drawn as upright lines.
    system : {"metric", "us"}
        Units written.

    Raises
    ------
    ValueError
        If there is no wheelset.
    """
    if not wheelsets:
        raise ValueError("a fleet without wheelsets cannot be drawn")
    drawn = sorted(wheelsets, key=lambda w: (w.word.gravity, w.wheelset))[:MOST_ROWS]
    fleets = sorted({w.fleet for w in drawn})
    rows, headings, height = _places(drawn, fleets)
    body = Box(x=NAMES, y=44.0, width=WIDTH - NAMES, height=height)
    parts = [_names(rows, headings)]
    parts += _lanes(rows, body, measures, limits, system)
    left_out = len(wheelsets) - len(drawn)
    foot = body.bottom + 46
    if left_out:
        words = f"{left_out} calmer wheelsets are not drawn; the table has them all."
        parts.append(text(0, foot, words=words, role="soft"))
        foot += 20
    keys = [Key(words=f"{s.name} wheel", role=s.role, shape=s.shape) for s in LOOKS]
    keys += [
        Key(words="wheelset", role="ink", shape="disc"),
        Key(words="limit", role="out", dash="solid"),
    ]
    parts.append(legend(keys, x=2, y=foot, width=WIDTH))
    parts.append(verdict_legend([w.word for w in drawn], x=2, y=foot + 22))
    return document("The fleet", _told(wheelsets), width=WIDTH, height=foot + 30, parts=parts)


_Rows = list[tuple[WheelsetLike, float]]


def _places(
    drawn: Sequence[WheelsetLike], fleets: Sequence[str]
) -> tuple[_Rows, list[tuple[str, float]], float]:
    """Return rows and fleet headings with their heights on paper, and the height of all."""
    rows: _Rows = []
    headings = []
    y = 44.0
    for fleet in fleets:
        headings.append((fleet, y + 13))
        y += 20.0
        for wheelset in (w for w in drawn if w.fleet == fleet):
            rows.append((wheelset, y + ROW / 2))
            y += ROW
        y += 4.0
    return rows, headings, y - 44.0


def _names(rows: _Rows, headings: Sequence[tuple[str, float]]) -> str:
    d = "".join(f"M0 {number(y - ROW / 2)}h{WIDTH:g}v{ROW:g}h-{WIDTH:g}z" for _, y in rows[::2])
    stripes = path(d, fill="panel")
    marks = "".join(
        verdict_marks([(8.0, y) for w, y in rows if w.word is word], word=word, size=10)
        for word in Word
    )
    names = "".join(text(22, y + 4, words=w.wheelset, size=11) for w, y in rows)
    fleets = "".join(text(0, y, words=name, size=12, font_weight=600) for name, y in headings)
    return stripes + marks + names + fleets


def _lanes(
    rows: _Rows, body: Box, measures: tuple[str, ...], limits: Sequence[Limit], system: UnitSystem
) -> list[str]:
    width = body.width / len(measures)
    parts = []
    for k, name in enumerate(measures):
        box = Box(x=body.x + k * width + 8, y=body.y, width=width - 16, height=body.height)
        parts.append(_lane(rows, box, name, [v for v in limits if v.quantity == name], system))
    return parts


def _lane(rows: _Rows, box: Box, name: str, limits: Sequence[Limit], system: UnitSystem) -> str:
    unit = measure_unit(name)
    found = [(side, v, y) for w, y in rows for side, v in _values(w, name, system)]
    heading = text(box.x, box.y - 26, words=measure_words(name), size=12)
    note = with_unit("", unit, system).removeprefix(", ")
    heading += text(box.x, box.y - 11, words=note, role="soft", size=11)
    if not found:
        return heading + text(box.x, box.y + 34, words="not measured", role="soft", size=11)
    bounds = [float(in_shown(v.value, unit, system)) for v in limits if v.level == "limit"]
    along = axis("", [v for _, v, _ in found], include=bounds, about=4, margin=0.09)
    panel = Panel(box=box, along=along, up=fixed_axis("", 0.0, high=1.0))
    return heading + _lane_rules(panel, bounds) + _lane_marks(panel, found)


def _lane_rules(panel: Panel, bounds: Sequence[float]) -> str:
    box = panel.box
    span = f"v{number(box.height)}"
    grid = "".join(f"M{number(x)} {number(box.y)}{span}" for x in panel.x(panel.along.ticks))
    rules = "".join(f"M{number(x)} {number(box.y)}{span}" for x in panel.x(sorted(set(bounds))))
    numbers = "".join(
        note_text(x, box.bottom + 14, words=panel.along.tick_text(v), role="soft", anchor="middle")
        for v, x in zip(panel.along.ticks, panel.x(panel.along.ticks).tolist(), strict=True)
    )
    return path(grid, stroke="grid", width=1.0) + path(rules, stroke="out", width=1.6) + numbers


def _lane_marks(panel: Panel, found: Sequence[tuple[str, float, float]]) -> str:
    parts = []
    for look in LOOKS:
        mine = [(v, y) for side, v, y in found if side == look.name]
        x = panel.x([v for v, _ in mine])
        off = -BESIDE if look.name == "left" else BESIDE
        parts.append(markers(x, [y + off for _, y in mine], shape=look.shape, role=look.role))
    whole = [(v, y) for side, v, y in found if side == ""]
    x = panel.x([v for v, _ in whole])
    parts.append(markers(x, [y for _, y in whole], shape="disc", role="ink"))
    return clipped(
        Box(x=panel.box.x - 6, y=panel.box.y, width=panel.box.width + 12, height=panel.box.height),
        parts,
    )


def _values(wheelset: WheelsetLike, name: str, system: UnitSystem) -> list[tuple[str, float]]:
    unit = measure_unit(name)
    return [
        (key.partition(".")[2], float(in_shown(measured.value, unit, system)))
        for key, measured in wheelset.measures.items()
        if key.partition(".")[0] == name and measured.value is not None
    ]


def _told(wheelsets: Sequence[WheelsetLike]) -> str:
    counts = {word: sum(w.word is word for w in wheelsets) for word in Word}
    told = ", ".join(f"{n} {word.value}" for word, n in counts.items() if n)
    return f"{len(wheelsets)} wheelsets: {told}."
