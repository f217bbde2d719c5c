"""Outline files: what each device wrote, one file for a device and a campaign.

The plain form is the default one, long rows with units in the header. The other form needs the
recipe that is laid beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

from tapertread.demo.ageing_rails import SIDES
from tapertread.demo.chance import Chance
from tapertread.demo.devices import measured
from tapertread.demo.plan import DevicePlan, FaultPlan, Plan, Side
from tapertread.demo.tables import write_lines
from tapertread.demo.truth import DemoTruth
from tapertread.shapes.outline import Floats
from tapertread.units import MM_PER_INCH

POINT_DIGITS = {"metric": 3, "us": 5}
Lines = dict[tuple[str, str], list[str]]
"""Device and campaign → rows of its file."""

_Seen = tuple[Side, Side, tuple[FaultPlan, ...], Chance]


def write_wheels(folder: Path, plan: Plan, truth: DemoTruth) -> None:
    """Write the outlines of all wheels."""
    devices = {one.id: plan.fleet[one.fleet].device for one in plan.vehicle}
    lines: Lines = {}
    for (name, campaign), one in truth.wheelsets.items():
        device = devices[one.vehicle]
        rows = lines.setdefault((device, campaign), [])
        for side, source, faults, chance in _seen(plan, name, campaign=campaign, seed=truth.seed):
            points = measured(
                one.wheel(source).outline, plan.device[device], faults=faults, chance=chance
            )
            rows += _rows(points, plan, device=device, labels=(name, side, campaign))
    _write(folder, plan, lines, asset="wheelset")


def write_rails(folder: Path, plan: Plan, truth: DemoTruth) -> None:
    """Write the outlines of all rails, and the recipe of a device that needs one."""
    sections = {one.id: one for one in plan.section}
    lines: Lines = {}
    for (name, campaign), one in truth.sections.items():
        section = sections[name]
        rows = lines.setdefault((section.device, campaign), [])
        for side, source, faults, chance in _seen(plan, name, campaign=campaign, seed=truth.seed):
            points = measured(
                one.rail(source).outline,
                plan.device[section.device],
                faults=faults,
                chance=chance,
                rail=section.rail,
                inclination=one.inclination,
            )
            rows += _rows(points, plan, device=section.device, labels=(name, side, campaign))
    _write(folder, plan, lines, asset="section")


def _seen(plan: Plan, asset: str, *, campaign: str, seed: int) -> Iterator[_Seen]:
    """Yield for each outline of an asset: side it is filed under, true side, faults, chance."""
    whole = {fault.trap for fault in plan.faults_of(asset, campaign=campaign)}
    for side in SIDES:
        faults = plan.faults_of(asset, campaign=campaign, side=side)
        if any(fault.trap == "missing-outline" for fault in faults):
            continue
        other: Side = "right" if side == "left" else "left"
        source = other if "sides-swapped" in whole else side
        yield side, source, faults, Chance.named(seed, "outline", asset, campaign, side)


def _rows(points: Floats, plan: Plan, *, device: str, labels: tuple[str, str, str]) -> list[str]:
    """Return the points (n, 2; mm) of one outline as rows of its device's file."""
    plain = plan.device[device].form == "plain"
    factor = 1.0 if plan.units == "metric" else 1.0 / MM_PER_INCH
    down = 1.0 if plain else -1.0
    digits = POINT_DIGITS[plan.units]
    sign = "," if plain else ";"
    form = sign.join((*labels, f"%.{digits}f", f"%.{digits}f"))
    zero = f"{sign}-{0.0:.{digits}f}"
    rows = [form % (factor * y, down * factor * z) for y, z in points.tolist()]
    return [row.replace(zero, sign + zero[2:]) if zero in row else row for row in rows]


def _write(folder: Path, plan: Plan, lines: Lines, *, asset: str) -> None:
    for (name, campaign), rows in lines.items():
        device = plan.device[name]
        write_lines(folder / f"{name}-{campaign}.csv", _header(plan, device, asset) + rows)
        if device.form != "plain":
            recipe = files("tapertread.data") / "demo" / "recipes" / f"{device.form}.toml"
            write_lines(folder / "recipe.toml", recipe.read_text(encoding="utf-8").splitlines())


def _header(plan: Plan, device: DevicePlan, asset: str) -> list[str]:
    if device.form == "semicolon":
        return [f"INVENTED measurements of {plan.title}", "Station;Rail;Run;Across;Down"]
    unit = "mm" if plan.units == "metric" else "in"
    return [
        f"# INVENTED measurements of {plan.title}",
        f"{asset},side,campaign,y_{unit},z_{unit}",
    ]
