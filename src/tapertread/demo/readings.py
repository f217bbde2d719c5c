"""What devices and people read: diameters, back-to-back, gauge, hardness, friction, bands.

Every reading carries noise of its own; what was not read stays empty.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np

from tapertread.demo.ageing_rails import SIDES, gauge_mm
from tapertread.demo.chance import Chance
from tapertread.demo.contact import band_mm, touching_mm
from tapertread.demo.plan import Plan, SectionPlan
from tapertread.demo.rails import new_rail
from tapertread.demo.truth import DemoTruth, SectionTruth, WheelsetTruth
from tapertread.railway.records import ContactBand, FrictionReading, Section, Wheelset

DIAMETER_SIGMA_MM = 0.1
BACK_TO_BACK_SIGMA_MM = 0.1
RIM_SIGMA_MM = 0.3
GAUGE_SIGMA_MM = 0.25
LOADED_MM = (1.4, 0.3)
"""How much wider a loaded track reads, and its scatter, mm."""

BAND_SIGMA_MM = 1.0
BAND_EVERY = 2
FRICTION = {
    ("top", False): 0.45,
    ("top", True): 0.42,
    ("gauge-face", False): 0.44,
    ("gauge-face", True): 0.17,
}
HARDNESS_HB = {"R260": 275.0, "R350HT": 362.0, "SS": 312.0, "HH": 372.0}
SHIFTS_MM = {
    "straight": np.linspace(-1.5, 1.5, 7),
    "outer": np.linspace(3.0, 6.0, 7),
    "inner": np.linspace(-6.0, -3.0, 7),
}
"""Shift of the wheel toward its own rail over which bands are polished, mm."""


def wheelsets(plan: Plan, truth: DemoTruth) -> list[Wheelset]:
    """Return every wheelset as measured in each campaign."""
    grades = {one.id: plan.fleet[one.fleet].wheel_grade for one in plan.vehicle}
    return [
        _wheelset(plan, one, grade=grades[one.vehicle], seed=truth.seed)
        for one in truth.wheelsets.values()
    ]


def sections(plan: Plan, truth: DemoTruth) -> list[Section]:
    """Return every section as measured in each campaign, with the kilometre as it was counted."""
    plans = {one.id: one for one in plan.section}
    return [
        _section(plan, plans[one.section], one, seed=truth.seed) for one in truth.sections.values()
    ]


def friction_readings(plan: Plan, truth: DemoTruth) -> Iterator[FrictionReading]:
    """Yield tribometer readings of every curve section."""
    greased = {one.id for one in plan.section if one.lubricated}
    for one in truth.sections.values():
        if one.left.role == "straight":
            continue
        for side in SIDES:
            place: Literal["top", "gauge-face"] = (
                "gauge-face" if one.rail(side).role == "outer" else "top"
            )
            chance = Chance.named(truth.seed, "friction", one.section, one.campaign, side)
            usual = FRICTION[place, one.section in greased]
            yield FrictionReading(
                section=one.section,
                side=side,
                campaign=one.campaign,
                place=place,
                friction=usual + 0.03 * float(chance.normal(1)[0]),
            )


def bands(plan: Plan, truth: DemoTruth) -> Iterator[ContactBand]:
    """Yield the shiny bands seen on every second section, from wheels of middling wear."""
    plans = {one.id: one for one in plan.section}
    usual = {campaign: _usual_wheelset(plan, truth, campaign) for campaign in plan.campaigns}
    for one in list(truth.sections.values())[::BAND_EVERY]:
        apart = _rails_apart_mm(plan, plans[one.section], one)
        for side in SIDES:
            rail = one.rail(side)
            wheelset = usual[one.campaign]
            wheel = wheelset.wheel(side).outline
            tape = 0.5 * wheelset.back_to_back_mm + wheel.tape_line_mm - 0.5 * apart
            places = touching_mm(
                wheel,
                rail.outline,
                offset_mm=tape + SHIFTS_MM[rail.role],
                inclination=one.inclination,
            )
            centre, width = band_mm(places)
            chance = Chance.named(truth.seed, "band", one.section, one.campaign, side)
            read = BAND_SIGMA_MM * chance.normal(2)
            yield ContactBand(
                section=one.section,
                side=side,
                campaign=one.campaign,
                centre_mm=centre + float(read[0]),
                width_mm=max(3.0, width + float(read[1])),
            )


def drift_km(plan: Plan, one: SectionTruth) -> float:
    """Return by how much (km) the counted kilometre of a section ran ahead of its posts."""
    end = next(track.to_km for track in plan.track if track.track == one.track)
    return sum(
        1e-3 * fault.size * (one.km - fault.from_km) / (end - fault.from_km)
        for fault in plan.faults_of(one.track, campaign=one.campaign)
        if fault.trap == "kilometre-drift" and one.km > fault.from_km
    )


def _wheelset(plan: Plan, one: WheelsetTruth, *, grade: str, seed: int) -> Wheelset:
    read = Chance.named(seed, "wheelset reading", one.wheelset, one.campaign).normal(5)
    faults = plan.faults_of(one.wheelset, campaign=one.campaign)
    known = not any(fault.trap == "missing-diameter" for fault in faults)
    backs = one.left.wear.back_mm + one.right.wear.back_mm
    return Wheelset(
        wheelset=one.wheelset,
        vehicle=one.vehicle,
        axle=int(one.wheelset.rpartition("-")[2]),
        campaign=one.campaign,
        left_diameter_mm=one.left.diameter_mm + DIAMETER_SIGMA_MM * float(read[0])
        if known
        else None,
        right_diameter_mm=one.right.diameter_mm + DIAMETER_SIGMA_MM * float(read[1])
        if known
        else None,
        diameter_uncertainty_mm=DIAMETER_SIGMA_MM if known else None,
        back_to_back_mm=one.back_to_back_mm + backs + BACK_TO_BACK_SIGMA_MM * float(read[2]),
        back_to_back_uncertainty_mm=BACK_TO_BACK_SIGMA_MM,
        left_rim_thickness_mm=one.left.rim_thickness_mm + RIM_SIGMA_MM * float(read[3]),
        right_rim_thickness_mm=one.right.rim_thickness_mm + RIM_SIGMA_MM * float(read[4]),
        rim_thickness_uncertainty_mm=RIM_SIGMA_MM,
        wheel_grade=grade,
        distance_since_turning_km=float(round(one.distance_km)),
    )


def _section(plan: Plan, section: SectionPlan, one: SectionTruth, *, seed: int) -> Section:
    chance = Chance.named(seed, "section reading", one.section, one.campaign)
    measured = section.gauge_known == "measured"
    grades = {side: _grade(section, one, side) for side in ("left", "right")}
    hard = {side: HARDNESS_HB[grades[side]] + 6.0 * float(chance.normal(1)[0]) for side in grades}
    return Section(
        section=one.section,
        line=plan.line,
        track=one.track,
        km=one.km + drift_km(plan, one),
        campaign=one.campaign,
        rail_design=section.rail,
        gauge_mm=one.gauge_mm + _gauge_reading_mm(section, chance) if measured else plan.gauge_mm,
        gauge_known=section.gauge_known,
        gauge_load=section.gauge_load if measured else "unknown",
        gauge_uncertainty_mm=GAUGE_SIGMA_MM if measured else None,
        inclination=section.inclination,
        inclination_known="nominal",
        frame=plan.device[section.device].frame,
        left_grade=grades["left"],
        right_grade=grades["right"],
        left_hardness_hb=float(round(hard["left"])),
        right_hardness_hb=float(round(hard["right"])),
    )


def _grade(section: SectionPlan, one: SectionTruth, side: str) -> str:
    rail = one.left if side == "left" else one.right
    return "R350HT" if rail.event == "renewed" else section.grade


def _gauge_reading_mm(section: SectionPlan, chance: Chance) -> float:
    read = chance.normal(2)
    widened = LOADED_MM[0] + LOADED_MM[1] * float(read[1])
    return GAUGE_SIGMA_MM * float(read[0]) + (widened if section.gauge_load == "loaded" else 0.0)


def _usual_wheelset(plan: Plan, truth: DemoTruth, campaign: str) -> WheelsetTruth:
    """Return the wheelset whose tread is worn most nearly as the middle one of its campaign."""
    fleet = plan.vehicle[0].fleet
    names = {one.id for one in plan.vehicle if one.fleet == fleet}
    outstanding = {one.id for one in plan.wheelset}
    candidates = [
        one
        for (_, when), one in truth.wheelsets.items()
        if when == campaign and one.vehicle in names and one.wheelset not in outstanding
    ]
    ordered = sorted(candidates, key=lambda one: one.left.measures["tread_loss_mm"])
    return ordered[len(ordered) // 2]


def _rails_apart_mm(plan: Plan, section: SectionPlan, one: SectionTruth) -> float:
    """Return the distance between the two rails' origins, mm."""
    new = new_rail(section.rail)
    return section.gauge_mm - gauge_mm(
        new, new, apart_mm=0.0, inclination=one.inclination, rule=plan.gauge_rule
    )
