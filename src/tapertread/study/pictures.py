"""The pairings that are drawn beside the gravest running verdicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from tapertread.contact import (
    ContactTable,
    Steering,
    TrackShape,
    WheelsetShape,
    pair_up,
    smoothed_difference_mm,
    steer_curve,
)
from tapertread.study.assessment import DesignOutlines, PairingPicture
from tapertread.study.encounters import turned_about
from tapertread.study.ground import Ground
from tapertread.study.meetings import new_outline
from tapertread.study.records import Finding, one_for_each_asset
from tapertread.study.states import SectionOnHand, WheelsetOnHand

MOST = 12
"""So many pairings are drawn; the rest is in the tables."""


def pictures_of(
    findings: Sequence[Finding],
    *,
    wheelsets: Mapping[str, WheelsetOnHand],
    ground: Ground,
) -> tuple[PairingPicture, ...]:
    """Return a picture for each of the first findings that a pairing explains."""
    made: list[PairingPicture] = []
    for one in one_for_each_asset(findings):
        if len(made) == MOST:
            break
        picture = _picture(one, wheelsets, ground)
        if picture is not None:
            made.append(picture)
    return tuple(made)


def _picture(
    one: Finding, wheelsets: Mapping[str, WheelsetOnHand], ground: Ground
) -> PairingPicture | None:
    chosen = _pair(one, wheelsets, ground)
    if chosen is None:
        return None
    wheelset, section, turned = chosen
    shape, track = wheelset.shape(), section.track(gauge_rule=ground.gauge_rule)
    if shape is None or track is None:
        return None
    return _drawn(one.id, turned_about(shape) if turned else shape, track, wheelset, section)


def _pair(
    one: Finding, wheelsets: Mapping[str, WheelsetOnHand], ground: Ground
) -> tuple[WheelsetOnHand, SectionOnHand, bool] | None:
    """Return the pairing that explains a finding, and whether the wheelset stands turned."""
    if one.subject.kind in ("wheelset", "wheel") and one.subject.asset in wheelsets:
        met = ground.crossing.by_wheelset.get(one.subject.asset, ())
        if one.against:
            met = [each for each in met if each.section == one.against]
        curves = [each for each in met if each.steering is not None] or list(met)
    elif one.subject.kind in ("section", "rail"):
        curves = list(ground.crossing.by_section.get(one.subject.asset, ()))
        if one.against:
            curves = [each for each in curves if each.wheelset == one.against]
    else:
        return None
    curves = [each for each in curves if not each.problem]
    if not curves:
        return None
    worst = min(curves, key=lambda each: 1.0 if each.steering is None else each.steering.share)
    return wheelsets[worst.wheelset], ground.sections[worst.section], worst.turned


def _drawn(
    finding_id: str,
    shape: WheelsetShape,
    track: TrackShape,
    wheelset: WheelsetOnHand,
    section: SectionOnHand,
) -> PairingPicture:
    pairing = pair_up(shape, track, amplitudes_mm=(3.0,))
    steering = steer_curve(pairing.reach, curve_radius_m=section.curve_radius_m)
    shift = _shift(steering, pairing.reach.start_mm)
    wheel = new_outline(wheelset.vehicle.wheel_design)
    rail = new_outline(section.record.rail_design)
    return PairingPicture(
        finding_id=finding_id,
        table=pairing.table,
        curve_radius_m=section.curve_radius_m,
        shift_index=_nearest_standing(pairing.table, shift),
        steering=steering,
        flange=pairing.flange,
        rolling_lines=pairing.lines,
        smoothed_mm=smoothed_difference_mm(pairing.table),
        designs=DesignOutlines(
            left_wheel=wheel, right_wheel=wheel, left_rail=rail, right_rail=rail
        ),
    )


def _nearest_standing(table: ContactTable, shift_mm: float) -> int:
    """Return the index of the shift with contact that lies nearest to a shift (mm)."""
    away = np.abs(table.shift_mm - shift_mm)
    return int(np.argmin(np.where(np.isfinite(table.roll_rad), away, np.inf)))


def _shift(steering: Steering, line_mm: float) -> float:
    """Return the shift that is drawn: where it would roll, else as far out as its root allows."""
    if np.isinf(steering.curve_radius_m):
        return line_mm
    outward = steering.equilibrium_outward_shift_mm
    way = -1.0 if steering.curve_radius_m > 0.0 else 1.0
    return way * (steering.root_shift_mm if outward is None else outward)
