"""A made-up assessment and geometrically consistent contact tables for the report's tests.

The tables are those of two cones on two circular heads, solved here with roll in closed form up to
second order, so that the report's tests lean on no other room's search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pytest

from tapertread.contact.records import ContactTable, SideContacts, TrackShape, WheelsetShape
from tapertread.limits.verdicts import Limit, Verdict, Word
from tapertread.report.inputs import Picture, Refusal, SectionRow, Stretch, WheelsetRow
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Origin, Outline
from tapertread.study.records import Finding, Reason, Subject

CONE, HEAD_MM, RADIUS_MM = 0.05, 300.0, 460.0


def cone_outline(name="cone", status="constructed") -> Outline:
    """Return a flange back, a face and a straight 1:20 tread; tape line at the origin."""
    y = np.array([-70.0, -70.0, -58.0, -45.0, -35.0, *np.linspace(-30.0, 60.0, 46)])
    z = np.array([8.0, -20.0, -28.0, -20.0, -3.0, *(0.05 * np.linspace(-30.0, 60.0, 46))])
    return Outline(kind="wheel", y_mm=y, z_mm=z, origin=Origin(name=name, status=status))


def head_outline(name="round head", status="constructed") -> Outline:
    """Return a circular crown with upright sides, drawn as laid."""
    y = np.linspace(-36.0, 36.0, 145)
    z = np.sqrt(HEAD_MM**2 - y**2) - HEAD_MM
    y = np.concatenate(([-36.0], y, [36.0]))
    z = np.concatenate(([z[0] - 30.0], z, [z[-1] - 30.0]))
    return Outline(
        kind="rail", y_mm=y, z_mm=z, origin=Origin(name=name, status=status), frame="track-plane"
    )


def cone_table() -> ContactTable:
    """Cone on circle: the contact lies where the circle's slope is the cone's, roll included."""
    shifts = np.linspace(-8.0, 8.0, 33)
    wheels = WheelsetShape(
        left=cone_outline(),
        right=cone_outline(),
        left_radius_mm=RADIUS_MM,
        right_radius_mm=RADIUS_MM,
        back_to_back_mm=1360.0,
    )
    track = TrackShape(left=head_outline(), right=head_outline(), inclination=0.0)
    delta, half = math.atan(CONE), 750.0
    roll = -shifts * math.tan(delta) / (half - RADIUS_MM * math.tan(delta))
    sides = [_side(h, shifts, roll, delta, half) for h in (1.0, -1.0)]
    height = RADIUS_MM * np.cos(roll) + np.zeros_like(shifts)
    return ContactTable(
        wheelset=wheels,
        track=track,
        shift_mm=shifts,
        roll_rad=roll,
        axle_height_mm=height,
        right=sides[0],
        left=sides[1],
    )


def _side(hand, shifts, roll, delta, half) -> SideContacts:
    angle = delta - hand * roll
    rail_y = -HEAD_MM * np.sin(angle)
    rail_z = HEAD_MM * np.cos(angle) - HEAD_MM
    rail_axis = half + 0.0
    wheel_y = rail_axis + rail_y - half - hand * shifts + RADIUS_MM * hand * roll
    wheel_z = CONE * wheel_y
    nothing = np.full(shifts.shape, np.nan)
    return SideContacts(
        wheel_y_mm=wheel_y,
        wheel_z_mm=wheel_z,
        rail_y_mm=rail_y,
        rail_z_mm=rail_z,
        rolling_radius_mm=RADIUS_MM - wheel_z,
        contact_angle_rad=angle,
        wheel_curvature_per_mm=np.zeros_like(shifts),
        rail_curvature_per_mm=np.full(shifts.shape, 1.0 / HEAD_MM),
        second_wheel_y_mm=nothing,
        second_rail_y_mm=nothing,
        second_gap_mm=nothing,
    )


LIMIT = Limit(
    id="made-up-thickness",
    quantity="flange_thickness_mm",
    sense="min",
    value=22.0,
    unit="mm",
    edition="EN 15313:2016",
    clause="table",
    source="en15313-2016",
    status="MEMORY",
    applies="diameter over 840 mm",
)
HOLLOW = Limit(
    id="made-up-hollow",
    quantity="tread_hollow_mm",
    sense="max",
    value=2.0,
    unit="mm",
    level="act",
    edition="own rule",
    clause="-",
    source="trade-practice",
    status="common practice, no source",
)


@dataclass(frozen=True, kw_only=True)
class Assessment:
    """A small made-up assessment."""

    name: str = "Made-up <hills> line"
    invented: bool = True
    units: str = "metric"
    campaigns: tuple = ("2031-04 (hand gauge)", "2032-04 (hand gauge)")
    wheelsets: tuple = ()
    sections: tuple = ()
    findings: tuple = ()
    pictures: tuple = ()
    route: tuple = ()
    refused: tuple = ()
    limits: tuple = (LIMIT, HOLLOW)
    sources: tuple = ("en15313-2016", "klingel-1883")
    timings_s: dict = field(default_factory=dict)
    notes: tuple = ()


WORDS = (Word.OUT, Word.ACT, Word.AGAIN, Word.WATCH, Word.NOT_ASSESSED, Word.SOUND)


def sides(name, draw, unit="mm"):
    """Return a made-up measure of both sides."""
    return {f"{name}.{side}": Measured.of(draw(), unit, noise=0.05) for side in ("left", "right")}


def wheelset_rows(count=24, seed=5) -> tuple[WheelsetRow, ...]:
    draw = np.random.default_rng(seed)
    rows = []
    for k in range(count):
        measures = {
            **sides("flange_thickness_mm", lambda: 30 - 7 * draw.random()),
            **sides("flange_height_mm", lambda: 28 + 3 * draw.random()),
            **sides("tread_hollow_mm", lambda: 2.4 * draw.random() ** 2),
            "equivalent_conicity": Measured.of(0.05 + 0.3 * draw.random(), "", noise=0.01),
        }
        word = WORDS[min(5, int(draw.integers(0, 14)))]
        fleet = "Freight" if k % 3 else "Passenger"
        rows.append(
            WheelsetRow(wheelset=f"W{k + 1:02d}", fleet=fleet, word=word, measures=measures)
        )
    return tuple(rows)


PLAN = (
    (2.1, 0.0, 0.0, 140.0),
    (1.2, 1000 / 350, 110.0, 90.0),
    (0.9, 0.0, 0.0, 120.0),
    (0.8, -1000 / 280, 130.0, 80.0),
    (0.7, 1000 / 300, 120.0, 80.0),
    (3.4, 0.0, 0.0, 160.0),
    (1.6, -1000 / 900, 90.0, 150.0),
    (1.2, 0.0, 0.0, 160.0),
)
"""Length (km), curvature (1/km), cant (mm), speed (km/h) of a made-up line."""


def route(line="Hill line, track 1") -> tuple[Stretch, ...]:
    pieces, at, last = [], 0.0, (0.0, 0.0)
    for length, bend, cant, speed in PLAN:
        for run, start in ((0.12, last), (length, (bend, cant))):
            pieces.append(
                Stretch(
                    line=line,
                    start_km=at,
                    end_km=at + run,
                    start_curvature_per_km=start[0],
                    end_curvature_per_km=bend,
                    start_cant_mm=start[1],
                    end_cant_mm=cant,
                    speed_kmh=speed,
                )
            )
            at += run
        last = (bend, cant)
    return tuple(pieces)


def section_rows(count=16, seed=7, line="Hill line, track 1") -> tuple[SectionRow, ...]:
    draw = np.random.default_rng(seed)
    rows = []
    for k, km in enumerate(np.sort(draw.random(count) * 12.5)):
        measures = {
            **sides("vertical_wear_mm", lambda: 6 * draw.random()),
            **sides("side_wear_mm", lambda: 9 * draw.random() ** 2),
            "steering_share": Measured.of(float(draw.random()), "", noise=0.04),
        }
        rows.append(
            SectionRow(
                section=f"S{k + 1:02d}",
                line=line,
                distance_km=float(km),
                word=WORDS[min(5, int(draw.integers(0, 12)))],
                measures=measures,
            )
        )
    return tuple(rows)


def findings() -> tuple[Finding, ...]:
    worn = Measured.of(21.4, "mm", noise=0.05, datum=0.1)
    hollow = Measured.of(2.6, "mm", noise=0.05, datum=0.05)
    lost = Measured.missing("mm", "the outline ends before the rim")
    share = Measured.of(0.43, "", gauge=0.05)
    return (
        Finding(
            id="F001",
            subject=Subject(kind="wheel", asset="W07", side="left", group="Freight"),
            quantity="flange_thickness_mm",
            verdict=Verdict(word=Word.OUT, measured=worn, limit=LIMIT),
            reason=Reason(code="beyond-limit"),
            why="The flange is 0.6 mm too thin & the measurement could not hide so much.",
            against="S04",
            rank=1,
        ),
        Finding(
            id="F002",
            subject=Subject(kind="wheel", asset="W03", side="right", group="Passenger"),
            quantity="tread_hollow_mm",
            verdict=Verdict(word=Word.ACT, measured=hollow, limit=HOLLOW),
            reason=Reason(code="beyond-act"),
            why="The tread is worn hollow, so it steers the wrong way on the low rail.",
            against="S09",
            rank=2,
        ),
        Finding(
            id="F003",
            subject=Subject(kind="section", asset="S04", group="Hill line"),
            quantity="steering_share",
            verdict=Verdict(word=Word.WATCH, measured=share),
            reason=Reason(code="share"),
            why="It needs 2.46 mm and has 1.06 mm; its flange does the rest.",
            rank=3,
        ),
        Finding(
            id="F004",
            subject=Subject(kind="wheel", asset="W11", side="left", group="Freight"),
            quantity="rim_thickness_mm",
            verdict=Verdict(word=Word.NOT_ASSESSED, measured=lost, why_not="no rim in the outline"),
            reason=Reason(code="missing"),
            why="Not assessed: the outline ends before the rim.",
            rank=4,
        ),
    )


def small_assessment(**changes) -> Assessment:
    table = cone_table()
    base = {
        "wheelsets": wheelset_rows(),
        "sections": section_rows(),
        "findings": findings(),
        "pictures": (
            Picture(finding_id="F001", table=table, curve_radius_m=-280.0, shift_index=24),
            Picture(finding_id="F003", table=table, curve_radius_m=350.0, shift_index=10),
        ),
        "route": route(),
        "refused": (
            Refusal(
                subject="wheel W14 left",
                reason="A step of 0.4 mm between two stitched sensors.",
                where="wheels/b.csv, line 210",
            ),
        ),
        "timings_s": {"reading": 0.8, "contact": 4.2, "judging": 0.1},
        "notes": ("Gauge of 3 sections is only nominal.",),
    }
    return Assessment(**{**base, **changes})


@pytest.fixture(scope="session")
def table() -> ContactTable:
    return cone_table()


@pytest.fixture(scope="session")
def assessment() -> Assessment:
    return small_assessment()


@pytest.fixture(scope="session")
def make_assessment():
    """Return the maker of small assessments, for tests that change one thing."""
    return small_assessment


@pytest.fixture(scope="session")
def make_wheelsets():
    return wheelset_rows


@pytest.fixture(scope="session")
def make_sections():
    return section_rows


@pytest.fixture(scope="session")
def stretches():
    return route()


@pytest.fixture(scope="session")
def limits():
    return (LIMIT, HOLLOW)
