"""From tonnes, curvature and grade to worn sections in both campaigns, grinding included."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tapertread.demo.ageing_wheels import year_share
from tapertread.demo.chance import Chance
from tapertread.demo.line import curvature_per_m
from tapertread.demo.measures import rail_measures
from tapertread.demo.plan import Plan, SectionPlan, Side
from tapertread.demo.rails import RailWear, ground_rail, new_rail, worn_rail
from tapertread.demo.truth import Event, RailTruth, SectionTruth
from tapertread.shapes.outline import Outline
from tapertread.units import MM_PER_INCH

REFERENCE_RADIUS_M = 300.0
SIDE_MM_PER_MT = 0.05
FLAT_MM_PER_MT = 0.007
TOP_MM_PER_MT = 0.005
HARD = {"R260": 1.0, "R350HT": 0.45, "SS": 0.8, "HH": 0.4}
"""Wear of each grade against R260; SS and HH are this railroad's standard and hardened rail."""

LUBRICATED = 0.35
STRAIGHT_ABOVE_M = 2600.0
SIDES: tuple[Side, Side] = ("left", "right")
Role = Literal["outer", "inner", "straight"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """A rail where it lies, with its local scatter around 1."""

    section: SectionPlan
    side: Side
    role: Role
    radius_m: float
    factors: tuple[float, float, float]

    def wear(self, carried_mt: float, *, shoulder_share: float = 1.0) -> RailWear:
        """Return what the rail has lost after carrying tonnes (million)."""
        hard = HARD[self.section.grade]
        sharp = REFERENCE_RADIUS_M / self.radius_m
        top = TOP_MM_PER_MT * carried_mt * hard * self.factors[1]
        if self.role == "outer":
            greased = LUBRICATED if self.section.lubricated else 1.0
            rate = SIDE_MM_PER_MT * sharp**1.2 * hard * greased * self.factors[0]
            return self._outer(rate * carried_mt, top)
        if self.role == "inner":
            rate = FLAT_MM_PER_MT * sharp**0.5 * hard * self.section.crushed * self.factors[0]
            return self._inner(rate * carried_mt, top)
        return self._straight(carried_mt, top, shoulder_share)

    def _outer(self, side: float, top: float) -> RailWear:
        return RailWear(
            side_mm=side,
            face_deg=70.0 + 16.0 * math.exp(-side / 3.0),
            corner_mm=13.0 + min(3.0, 0.4 * side),
            top_mm=top,
        )

    def _inner(self, flat: float, top: float) -> RailWear:
        crushed = self.section.crushed - 1.0
        return RailWear(
            flat_mm=flat,
            flat_slope=0.004 + 0.01 * crushed,
            field_lip_mm=0.35 * flat * crushed,
            top_mm=0.4 * top,
        )

    def _straight(self, carried_mt: float, top: float, shoulder_share: float) -> RailWear:
        band = 12.0 * (self.factors[2] - 1.0)
        return RailWear(
            top_mm=0.8 * top,
            band_mm=(-20.0 + band, 16.0 + band),
            side_mm=0.0012 * carried_mt * self.factors[0]
            + self.section.shoulder_mm * shoulder_share,
            face_deg=85.0,
            corner_mm=13.0 + 8.0 * min(1.0, self.section.shoulder_mm * shoulder_share),
        )


def section_truths(plan: Plan, *, seed: int) -> dict[tuple[str, str], SectionTruth]:
    """Return every section in both campaigns by (name, campaign)."""
    return {
        (section.id, campaign): _section(plan, section, index=index, seed=seed)
        for index, campaign in enumerate(plan.campaigns)
        for section in plan.section
    }


def inclination_of(section: SectionPlan) -> float:
    """Return the lean of the rails toward the track centre as it really is, dy/dz."""
    if section.true_inclination is not None:
        return section.true_inclination
    one, of = section.inclination.split(":")
    return float(one) / float(of)


def leaning(outline: Outline, inclination: float) -> Outline:
    """Return an upright rail's outline as it leans toward the track centre."""
    return outline.moved(turn_rad=math.atan(inclination))


def gauge_mm(
    left: Outline, right: Outline, *, apart_mm: float, inclination: float, rule: str
) -> float:
    """Return the gauge (mm) of two heads whose origins lie `apart_mm` apart.

    European: the smallest distance within 14 mm below the tops; US: the distance 5/8 in below.
    """
    return apart_mm + sum(_inner_mm(leaning(one, inclination), rule) for one in (left, right))


def _inner_mm(leant: Outline, rule: str) -> float:
    depth = float(leant.z_mm.max()) - leant.z_mm
    gauge_side = np.arange(depth.size) < int(np.argmin(depth))
    if rule == "at-five-eighths-inch":
        above = int(np.argmax(depth <= 0.625 * MM_PER_INCH))
        return float(
            np.interp(
                -0.625 * MM_PER_INCH,
                -depth[above - 1 : above + 1],
                leant.y_mm[above - 1 : above + 1],
            )
        )
    return float(leant.y_mm[(depth <= 14.0) & gauge_side].min())


def _lying(plan: Plan, section: SectionPlan, side: Side, *, seed: int) -> Lying:
    curvature = curvature_per_m(plan, section.km)
    role: Role = "straight"
    if abs(curvature) * STRAIGHT_ABOVE_M > 1.0:
        role = "outer" if (curvature > 0.0) == (side == "left") else "inner"
    chance = Chance.named(seed, "rail", section.id, side)
    return Lying(
        section=section,
        side=side,
        role=role,
        radius_m=1.0 / abs(curvature) if curvature else math.inf,
        factors=(chance.factor(0.12), chance.factor(0.12), chance.factor(0.15)),
    )


def _yearly_mt(plan: Plan, section: SectionPlan) -> float:
    return next(one.tonnage_mt_per_year for one in plan.track if one.track == section.track)


def _section(plan: Plan, section: SectionPlan, *, index: int, seed: int) -> SectionTruth:
    rails = {side: _rail(plan, section, side, index=index, seed=seed) for side in SIDES}
    inclination = inclination_of(section)
    new = new_rail(section.rail)
    fresh = gauge_mm(new, new, apart_mm=0.0, inclination=inclination, rule=plan.gauge_rule)
    return SectionTruth(
        section=section.id,
        track=section.track,
        campaign=plan.campaigns[index],
        km=section.km,
        curvature_per_m=curvature_per_m(plan, section.km),
        gauge_mm=gauge_mm(
            rails["left"].outline,
            rails["right"].outline,
            apart_mm=section.gauge_mm - fresh,
            inclination=inclination,
            rule=plan.gauge_rule,
        ),
        inclination=inclination,
        left=rails["left"],
        right=rails["right"],
    )


def _rail(plan: Plan, section: SectionPlan, side: Side, *, index: int, seed: int) -> RailTruth:
    lying = _lying(plan, section, side, seed=seed)
    yearly, work = _yearly_mt(plan, section), plan.maintenance
    carried = section.laid_mt + index * yearly
    event: Event = ""
    if index and (section.id, side) in work.renewed:
        event, carried = "renewed", yearly * year_share(plan, work.renewed_on)
    wear = lying.wear(carried, shoulder_share=0.0 if event else (0.9, 1.0)[index])
    lip = plan.metal_mm(
        "lip-on-gauge-corner", section.id, campaign=plan.campaigns[index], side=side
    )
    wear = replace(wear, lip_mm=lip)
    outline = worn_rail(section.rail, wear)
    if index and section.id in work.ground:
        event = "ground"
        outline = ground_rail(section.rail, outline, depth_mm=work.grinding_mm)
    return RailTruth(
        design=section.rail,
        role=lying.role,
        wear=wear,
        outline=outline,
        carried_mt=carried,
        measures=rail_measures(section.rail, outline),
        event=event,
    )
