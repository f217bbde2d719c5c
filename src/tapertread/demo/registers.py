"""What people wrote into the tables: vehicles, services, inspections, treatments, lubricators."""

from __future__ import annotations

from tapertread.demo.plan import Plan
from tapertread.demo.truth import DemoTruth
from tapertread.railway.records import (
    Campaign,
    Inspection,
    Lubricator,
    Service,
    Treatment,
    Vehicle,
)


def campaigns(plan: Plan) -> list[Campaign]:
    """Return the two campaigns."""
    return [
        Campaign(
            campaign=one.campaign,
            date=one.date,
            device=one.device,
            repeatability_mm=one.repeatability_mm,
        )
        for one in plan.campaign
    ]


def vehicles(plan: Plan) -> list[Vehicle]:
    """Return every vehicle."""
    return [
        Vehicle(
            vehicle=one.id,
            fleet=one.fleet,
            kind=one.kind,
            orientation=one.orientation,
            maximum_speed_kmh=plan.fleet[one.fleet].maximum_speed_kmh,
            axle_load_kn=plan.fleet[one.fleet].axle_load_kn,
            powered=one.powered,
            wheel_design=one.design,
            bogie_wheelbase_m=plan.fleet[one.fleet].bogie_wheelbase_m,
        )
        for one in plan.vehicle
    ]


def services(plan: Plan) -> list[Service]:
    """Return which fleet runs how much on the line."""
    return [
        Service(fleet=name, line=plan.line, share=fleet.share, speed_kmh=fleet.speed_kmh)
        for name, fleet in plan.fleet.items()
    ]


def inspections(plan: Plan) -> list[Inspection]:
    """Return what inspectors wrote, renewed rails among it."""
    seen = [
        Inspection(
            subject=one.subject,
            asset=one.asset,
            side=one.side,
            campaign=one.campaign,
            kind=one.kind,
            length_mm=one.length_mm,
            depth_mm=one.depth_mm,
            note=one.note,
        )
        for one in plan.inspection
    ]
    renewed = [
        Inspection(
            subject="rail",
            asset=asset,
            side=side,
            campaign=plan.campaigns[1],
            kind="other",
            note=f"rail renewed on {plan.maintenance.renewed_on}",
        )
        for asset, side in plan.maintenance.renewed
    ]
    return seen + renewed


def treatments(plan: Plan, truth: DemoTruth) -> list[Treatment]:
    """Return what the lathe and the grinding machine did in the year between."""
    work, (first, second) = plan.maintenance, plan.campaigns
    turned = [
        Treatment(
            kind="turning",
            asset=name,
            date=work.turned_on,
            removed_mm=_turned_off_mm(truth, name, (first, second)),
            note="diameter lost, both wheels cut to one diameter",
        )
        for name in work.turned
    ]
    ground = [
        Treatment(
            kind="grinding",
            asset=name,
            date=work.ground_on,
            removed_mm=work.grinding_mm,
            note="depth at the rail axis",
        )
        for name in work.ground
    ]
    return turned + ground


def lubricators(plan: Plan) -> list[Lubricator]:
    """Return the lubricators, all beside the first track."""
    return [
        Lubricator(
            lubricator=one.id,
            line=plan.line,
            track=plan.track[0].track,
            km=one.km,
            kind=one.kind,
            state=one.state,
        )
        for one in plan.lubricator
    ]


def _turned_off_mm(truth: DemoTruth, name: str, campaigns: tuple[str, str]) -> float:
    before, after = (truth.wheelsets[name, campaign] for campaign in campaigns)
    return before.left.diameter_mm - after.left.diameter_mm
