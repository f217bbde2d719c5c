"""An outline against its design, with the lines at which it is gauged and what was measured."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tapertread.report.figures.words import measure_words, mm_text, shape_text
from tapertread.report.palette import Role
from tapertread.report.plots import (
    Key,
    clipped,
    dimension,
    ground,
    legend,
    level,
    note_text,
    scale_bar,
    upright,
)
from tapertread.report.scales import Box, Panel, equal_panel
from tapertread.report.svg import document, path, polygon_d, polyline_d, text
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Outline
from tapertread.units import UnitSystem

WIDTH = 640.0
GAUGING_DEPTH_MM = 10.0
BELOW_TIP_MM = 2.0
SIDE_WEAR_DEPTH_MM = 14.0


def outline_picture(
    outline: Outline,
    design: Outline | None = None,
    *,
    measures: Mapping[str, Measured] | None = None,
    system: UnitSystem = "metric",
) -> str:
    """Return an outline over its design with gauging lines, worn metal shaded, measures written.

    Lines: tape line, 10 mm beyond the tread and 2 mm below the flange tip of a wheel; 14 mm below
    the top of a rail [en15313-2016].

    Parameters
    ----------
    outline : Outline
        Measured, in its design's axes.
    design : Outline, optional
        New shape.
    measures : mapping of str to Measured, optional
        Measures by name.
    system : {"metric", "us"}
        Units written.
    """
    measures = measures or {}
    box = Box(x=0.0, y=28.0, width=WIDTH, height=262.0 if outline.kind == "wheel" else 330.0)
    panel = _panel(outline, box)
    body = [ground(box), *_shapes(panel, outline, design)]
    rules = _wheel_rules if outline.kind == "wheel" else _rail_rules
    parts = [
        text(0, 16, words=_heading(outline, design), size=13),
        clipped(box, [*body, *rules(panel, outline, measures, system)]),
        scale_bar(panel, (12.7, "1/2 in") if system == "us" else (10.0, "10 mm")),
        legend(_keys(outline, design), x=2, y=box.bottom + 20, width=WIDTH),
    ]
    return document(
        _heading(outline, design),
        _told(measures),
        width=WIDTH,
        height=box.bottom + 28,
        parts=parts,
    )


def _heading(outline: Outline, design: Outline | None) -> str:
    name = f"{outline.kind.capitalize()} {shape_text(outline)}"
    return name if design is None else f"{name} against {shape_text(design)}"


def _panel(outline: Outline, box: Box) -> Panel:
    if outline.kind == "wheel":
        return equal_panel(box, centre=(-4.0, -8.0), width=150.0)
    low, high = float(outline.y_mm.min()), float(outline.y_mm.max())
    return equal_panel(
        box, centre=(0.5 * (low + high), -19.0), width=max(100.0, 1.5 * (high - low))
    )


def _role(outline: Outline) -> Role:
    return "wheel" if outline.kind == "wheel" else "rail"


def _shapes(panel: Panel, outline: Outline, design: Outline | None) -> list[str]:
    role = _role(outline)
    x, y = panel.x(outline.y_mm), panel.y(outline.z_mm)
    parts = []
    if design is not None:
        dx, dy = panel.x(design.y_mm), panel.y(design.z_mm)
        between = polygon_d(np.concatenate((x, dx[::-1])), np.concatenate((y, dy[::-1])))
        parts.append(path(between, fill="contact", fill_opacity=0.16, fill_rule="evenodd"))
        parts.append(path(polyline_d(dx, dy), stroke="design", width=1.3, stroke_dasharray="6 4"))
    parts.append(path(polyline_d(x, y), stroke=role, width=2.2))
    return parts


def _value(measures: Mapping[str, Measured], name: str, system: UnitSystem) -> str | None:
    measured = measures.get(name)
    if measured is None or measured.value is None:
        return None
    return mm_text(measured.value, system)


def _wheel_rules(
    panel: Panel, outline: Outline, measures: Mapping[str, Measured], system: UnitSystem
) -> list[str]:
    tip = int(np.argmin(outline.z_mm))
    tread_z = float(np.interp(0.0, outline.y_mm[tip:], outline.z_mm[tip:]))
    low_z = float(outline.z_mm[tip]) + BELOW_TIP_MM
    gauging_z = tread_z - GAUGING_DEPTH_MM
    beside_tip = float(outline.y_mm[tip]) + 30.0
    face = _face_y(outline, tip, gauging_z)
    lines = {
        "flange_height_mm": ((beside_tip, tread_z), (beside_tip, low_z - BELOW_TIP_MM)),
        "flange_thickness_mm": ((-outline.tape_line_mm, gauging_z), (face, gauging_z)),
        "flange_slope_mm": ((_face_y(outline, tip, low_z), low_z), (face, low_z)),
    }
    parts = _wheel_lines(panel, gauging_z, low_z, system)
    for name, (start, stop) in lines.items():
        value = _value(measures, name, system)
        if value is not None and np.isfinite((*start, *stop)).all():
            words = f"{name.split('_')[1]} {value}"
            parts.append(dimension(panel.at(*start), panel.at(*stop), words=words, role="ink"))
    hollow = _value(measures, "tread_hollow_mm", system)
    if hollow is not None:
        x, y = panel.at(34.0, tread_z + 7.0)
        parts.append(note_text(x, y, words=f"hollow {hollow}", anchor="middle"))
    return parts


def _wheel_lines(panel: Panel, gauging_z: float, low_z: float, system: UnitSystem) -> list[str]:
    ten, two = (_round_text(v, system) for v in (GAUGING_DEPTH_MM, BELOW_TIP_MM))
    x = float(panel.x(0.0)) + 6
    return [
        upright(panel, 0.0, role="soft", dash="dotted"),
        note_text(x, panel.box.y + 16, words="tape line", role="soft"),
        level(panel, gauging_z, words=f"{ten} beyond the tread", role="soft", dash="dotted"),
        level(panel, low_z, words=f"{two} from the tip", role="soft", dash="dotted"),
    ]


def _round_text(value_mm: float, system: UnitSystem) -> str:
    return mm_text(value_mm, system, digits=0 if system == "metric" else 2)


def _face_y(outline: Outline, tip: int, z: float) -> float:
    """Return where the face, from the tip toward the tread, passes a height; NaN if nowhere."""
    above = np.nonzero(outline.z_mm[tip:] >= z)[0]
    if above.size == 0:
        return float("nan")
    k = tip + int(above[0])
    if k == tip:
        return float(outline.y_mm[tip])
    z0, z1 = outline.z_mm[k - 1], outline.z_mm[k]
    share = 0.0 if z1 == z0 else (z - z0) / (z1 - z0)
    return float(outline.y_mm[k - 1] + share * (outline.y_mm[k] - outline.y_mm[k - 1]))


def _rail_rules(
    panel: Panel, outline: Outline, measures: Mapping[str, Measured], system: UnitSystem
) -> list[str]:
    top = float(outline.z_mm.max())
    depth = f"{_round_text(SIDE_WEAR_DEPTH_MM, system)} below the top"
    parts = [
        upright(panel, 0.0, role="soft", dash="dotted"),
        level(panel, top - SIDE_WEAR_DEPTH_MM, words=depth, role="soft", dash="dotted"),
    ]
    x, y = panel.at(0.0, top - 22.0)
    for name in ("vertical_wear_mm", "side_wear_mm", "wear_45_mm"):
        value = _value(measures, name, system)
        if value is not None:
            words = f"{measure_words(name)} {value}"
            parts.append(text(x + 8, y, words=words, halo=True))
            y += 18
    return parts


def _keys(outline: Outline, design: Outline | None) -> list[Key]:
    worn = "measured" if outline.origin.status == "measured" else shape_text(outline)
    keys = [Key(words=worn, role=_role(outline), dash="solid")]
    if design is not None:
        keys.append(Key(words=f"design {shape_text(design)}", role="design", dash="dashed"))
        keys.append(Key(words="between both", role="contact", filled=True))
    return keys


def _told(measures: Mapping[str, Measured]) -> str:
    known = [
        f"{name.removesuffix('_mm').replace('_', ' ')} {measured.value:.2f} {measured.unit}"
        for name, measured in measures.items()
        if measured.value is not None
    ]
    field = "Gauge side to the left, field side to the right."
    return f"{field} {', '.join(known)}." if known else field
