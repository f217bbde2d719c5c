"""From habit and distance to worn wheelsets in both campaigns, the lathe between them included."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

from tapertread.demo.chance import Chance
from tapertread.demo.measures import wheel_measures
from tapertread.demo.plan import HabitPlan, Plan, Side, VehiclePlan, WheelsetPlan
from tapertread.demo.truth import WheelsetTruth, WheelTruth
from tapertread.demo.wheels import WheelWear, cut_depth_mm, new_wheel, worn_wheel

AXLES = 4
PER_KM = 1e-5
RUN_IN = 0.12
"""Fresh-cut flanges wear this many 100,000 km ahead of their distance."""

STEEPENS_MM = 2.5
LATHE_MM = 0.05
UNEVEN_LATHE_MM = 0.08
BACK_SHARES = (0.85, 1.0)
"""How much of a flange back's wear was there in each campaign."""

SIDES: tuple[Side, Side] = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Axle:
    """One wheelset with everything that holds for both campaigns.

    Attributes
    ----------
    factors : dict of str to float
        Local scatter, around 1: ``tread``, and ``flange`` by side.
    diameter_mm : dict of str to float
        After the turning before the first campaign, by side.
    """

    name: str
    vehicle: VehiclePlan
    habit: HabitPlan
    stands_out: WheelsetPlan | None
    distance_km: float
    back_to_back_mm: float
    rim_mm: float
    factors: dict[str, float]
    diameter_mm: dict[Side, float]

    def wear(self, distance_km: float, *, side: Side, back_share: float = 0.0) -> WheelWear:
        """Return what a wheel has lost after a distance (km) since turning."""
        far = distance_km * PER_KM
        lean = 1.0 + (self.habit.lean if side == "left" else -self.habit.lean)
        run_in = RUN_IN * (1.0 - math.exp(-far / RUN_IN))
        flange = self.habit.flange_mm * lean * self.factors[side] * (far + run_in)
        new_deg = _new_face_deg(self.vehicle.design)
        steeper = max(0.0, self.habit.face_deg - new_deg) * (1.0 - math.exp(-flange / STEEPENS_MM))
        return WheelWear(
            tread_mm=self.habit.tread_mm * self.factors["tread"] * far**0.95,
            hollow=self.habit.hollow,
            flange_mm=flange,
            face_deg=new_deg + steeper,
            back_mm=self.stands_out.flange_back_mm * back_share if self.stands_out else 0.0,
            lip_mm=self.habit.lip_mm * far,
        )


def axles(plan: Plan, *, seed: int) -> list[Axle]:
    """Return every wheelset of the plan, vehicle by vehicle."""
    outstanding = {one.id: one for one in plan.wheelset}
    return [
        _axle(plan, vehicle, axle=number, outstanding=outstanding, seed=seed)
        for vehicle in plan.vehicle
        for number in range(1, AXLES + 1)
    ]


def wheelset_truths(plan: Plan, *, seed: int) -> dict[tuple[str, str], WheelsetTruth]:
    """Return every wheelset in both campaigns by (name, campaign)."""
    pairs = {axle.name: _both(plan, axle) for axle in axles(plan, seed=seed)}
    return {
        (name, campaign): pair[index]
        for index, campaign in enumerate(plan.campaigns)
        for name, pair in pairs.items()
    }


def year_share(plan: Plan, day: str) -> float:
    """Return which share of the year between the campaigns lies after a day (0..1)."""
    first, second = (date.fromisoformat(one.date) for one in plan.campaign)
    return (second - date.fromisoformat(day)) / (second - first)


def _axle(
    plan: Plan,
    vehicle: VehiclePlan,
    *,
    axle: int,
    outstanding: dict[str, WheelsetPlan],
    seed: int,
) -> Axle:
    name = f"{vehicle.id}-{axle}"
    own = outstanding.get(name)
    fleet = plan.fleet[vehicle.fleet]
    chance = Chance.named(seed, "wheelset", name)
    difference = own.diameter_difference_mm if own else 0.0
    uneven = UNEVEN_LATHE_MM * chance.normal(3)
    together = chance.factor(0.15)
    return Axle(
        name=name,
        vehicle=vehicle,
        habit=plan.habit[(own.habit if own else "") or vehicle.habit or fleet.habit],
        stands_out=own,
        distance_km=own.distance_km if own and own.distance_km else vehicle.distance_km,
        back_to_back_mm=fleet.back_to_back_mm + float(0.25 * chance.normal(1)[0]),
        rim_mm=fleet.rim_thickness_mm,
        factors={
            "tread": chance.factor(0.12),
            "left": together * chance.factor(0.05),
            "right": together * chance.factor(0.05),
        },
        diameter_mm={
            "left": vehicle.diameter_mm + float(uneven[0] + uneven[1]) - 0.5 * difference,
            "right": vehicle.diameter_mm + float(uneven[0] + uneven[2]) + 0.5 * difference,
        },
    )


@cache
def _new_face_deg(design: str) -> float:
    return wheel_measures(new_wheel(design))["flange_angle_deg"]


def _both(plan: Plan, axle: Axle) -> tuple[WheelsetTruth, WheelsetTruth]:
    first = _at(plan, axle, index=0, distance_km=axle.distance_km)
    if axle.name in plan.maintenance.turned:
        return first, _after_turning(plan, axle)
    return first, _at(plan, axle, index=1, distance_km=axle.distance_km + axle.vehicle.yearly_km)


def _after_turning(plan: Plan, axle: Axle) -> WheelsetTruth:
    """Return a wheelset that was turned in the year: both wheels cut to one diameter."""
    since = year_share(plan, plan.maintenance.turned_on)
    before_km = axle.distance_km + axle.vehicle.yearly_km * (1.0 - since)
    cut = {
        side: LATHE_MM
        + cut_depth_mm(
            axle.vehicle.design,
            worn_wheel(axle.vehicle.design, axle.wear(before_km, side=side)),
        )
        for side in SIDES
    }
    diameter = min(axle.diameter_mm[side] - 2.0 * cut[side] for side in SIDES)
    lost = max(cut.values())
    turned = replace(
        axle,
        stands_out=None,
        rim_mm=axle.rim_mm - lost,
        diameter_mm=dict.fromkeys(SIDES, diameter),
    )
    return _at(plan, turned, index=1, distance_km=axle.vehicle.yearly_km * since, turned=True)


def _at(
    plan: Plan, axle: Axle, *, index: int, distance_km: float, turned: bool = False
) -> WheelsetTruth:
    campaign = plan.campaigns[index]
    wheels: dict[Side, WheelTruth] = {}
    for side in SIDES:
        wear = axle.wear(distance_km, side=side, back_share=BACK_SHARES[index])
        burr = plan.metal_mm("burr-on-rim", axle.name, campaign=campaign, side=side)
        wheels[side] = _wheel(axle, replace(wear, lip_mm=wear.lip_mm + burr), side=side)
    return WheelsetTruth(
        wheelset=axle.name,
        vehicle=axle.vehicle.id,
        campaign=campaign,
        left=wheels["left"],
        right=wheels["right"],
        back_to_back_mm=axle.back_to_back_mm,
        distance_km=distance_km,
        event="turned" if turned else "",
    )


def _wheel(axle: Axle, wear: WheelWear, *, side: Side) -> WheelTruth:
    outline = worn_wheel(axle.vehicle.design, wear)
    measures = wheel_measures(outline)
    return WheelTruth(
        design=axle.vehicle.design,
        wear=wear,
        outline=outline,
        diameter_mm=axle.diameter_mm[side] - 2.0 * measures["tread_loss_mm"],
        rim_thickness_mm=axle.rim_mm - measures["tread_loss_mm"],
        measures=measures,
    )
