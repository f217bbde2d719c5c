"""Writing the survey folder of an invented railway, and handing its truth back."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

from tapertread.demo import registers
from tapertread.demo.ageing_rails import SIDES, section_truths
from tapertread.demo.ageing_wheels import wheelset_truths
from tapertread.demo.chance import Chance
from tapertread.demo.devices import measured
from tapertread.demo.line import kilometre_jumps, route_pieces
from tapertread.demo.plan import FaultPlan, Plan, Side, Which, read_plan
from tapertread.demo.tables import write_lines, write_table
from tapertread.demo.truth import DemoTruth, Planted
from tapertread.errors import SurveyRefused, Where
from tapertread.railway import records
from tapertread.shapes.outline import Floats
from tapertread.units import MM_PER_INCH

MARK = "# Invented by the demo of tapertread"
"""First line of a survey that this room wrote, and may write again."""

POINT_DIGITS = {"metric": 3, "us": 5}


def write_demo(
    folder: Path | str, *, which: Which = "main", seed: int | None = None, truth_file: bool = False
) -> DemoTruth:
    """Write the raw survey folder of an invented railway.

    Parameters
    ----------
    folder : Path or str
        Made if need be; it must be empty or hold the same demo.
    which : {"main", "us"}
        The metric railway, or the small one in US customary units.
    seed : int, optional
        Seed of all scatter; that of the plan where none is given.
    truth_file : bool
        Whether to write ``truth.json`` beside the tables.

    Returns
    -------
    DemoTruth
        What is true of the survey that was written.

    Raises
    ------
    SurveyRefused
        ``folder-not-empty`` if the folder holds anything else.
    WrongUsage
        If there is no such railway.
    """
    plan = read_plan(which)
    folder = Path(folder)
    _refuse_foreign(folder, plan)
    truth = demo_truth(which, seed=seed, folder=folder)
    write_lines(folder / "survey.toml", _survey_toml(plan))
    _write_tables(folder, plan, truth)
    _write_wheels(folder, plan, truth)
    _write_rails(folder, plan, truth)
    if truth_file:
        write_lines(folder / "truth.json", [json.dumps(truth.to_dict(), indent=1)])
    return truth


def demo_truth(which: Which, *, seed: int | None = None, folder: Path | str = "") -> DemoTruth:
    """Return the truth of an invented railway without writing anything.

    Raises
    ------
    WrongUsage
        If there is no such railway.
    """
    plan = read_plan(which)
    chosen = plan.seed if seed is None else seed
    return DemoTruth(
        which=which,
        seed=chosen,
        folder=Path(folder),
        campaigns=plan.campaigns,
        wheelsets=wheelset_truths(plan, seed=chosen),
        sections=section_truths(plan, seed=chosen),
        planted=tuple(_planted(plan)),
    )


def _planted(plan: Plan) -> Iterator[Planted]:
    for fault in plan.fault:
        yield Planted(
            trap=fault.trap,
            asset=fault.asset,
            campaign=fault.campaign,
            side=fault.side or "",
            size=fault.size,
            unit=fault.unit,
        )
    for campaign in plan.campaigns:
        for wheelset in plan.wheelset:
            if wheelset.flange_back_mm > 0.0:
                yield Planted(
                    trap="flange-back-worn",
                    asset=wheelset.id,
                    campaign=campaign,
                    size=wheelset.flange_back_mm,
                    unit="mm",
                )
        for section in plan.section:
            if section.gauge_known == "nominal":
                yield Planted(trap="nominal-gauge-only", asset=section.id, campaign=campaign)


def _refuse_foreign(folder: Path, plan: Plan) -> None:
    """Refuse a folder that holds anything but this very demo."""
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return
    marked = folder / "survey.toml"
    if marked.is_file() and marked.read_bytes().startswith(f"{_first_line(plan)}\n".encode()):
        return
    raise SurveyRefused(
        "folder-not-empty",
        "a folder that holds something else",
        allowed="a new or empty folder, or one that holds this demo",
        todo="name another folder",
        where=Where(file=str(folder)),
    )


def _first_line(plan: Plan) -> str:
    return f"{MARK}: {plan.title}"


def _survey_toml(plan: Plan) -> list[str]:
    lines = [
        _first_line(plan),
        "survey = 1",
        f"name = {json.dumps(plan.title)}",
        "invented = true",
        f'units = "{plan.units}"',
        f"limits = {json.dumps(list(plan.limits))}",
        f'gauge_rule = "{plan.gauge_rule}"',
        f"note = {json.dumps(plan.note)}",
    ]
    for one in plan.override:
        lines += [
            "",
            "[[override]]",
            f'id = "{one.id}"',
            f"value = {one.value!r}",
            f"edition = {json.dumps(one.edition)}",
            f"why = {json.dumps(one.why)}",
        ]
    return lines


def _write_tables(folder: Path, plan: Plan, truth: DemoTruth) -> None:
    tables: list[tuple[str, type[records.Record], Sequence[records.Record]]] = [
        ("campaigns", records.Campaign, registers.campaigns(plan)),
        ("vehicles", records.Vehicle, registers.vehicles(plan)),
        ("wheelsets", records.Wheelset, registers.wheelsets(plan, truth)),
        ("sections", records.Section, registers.sections(plan, truth)),
        ("route", records.RoutePiece, route_pieces(plan)),
        ("kilometres", records.KilometreJump, kilometre_jumps(plan)),
        ("services", records.Service, registers.services(plan)),
        ("inspections", records.Inspection, registers.inspections(plan)),
        ("treatments", records.Treatment, registers.treatments(plan, truth)),
        ("lubricators", records.Lubricator, registers.lubricators(plan)),
        ("bands", records.ContactBand, list(registers.bands(plan, truth))),
        ("friction", records.FrictionReading, list(registers.friction_readings(plan, truth))),
    ]
    for name, kind, rows in tables:
        if rows:
            write_table(folder / f"{name}.csv", rows, kind=kind, system=plan.units)


def _write_wheels(folder: Path, plan: Plan, truth: DemoTruth) -> None:
    devices = {one.id: plan.fleet[one.fleet].device for one in plan.vehicle}
    files: dict[str, list[str]] = {}
    for (name, campaign), one in truth.wheelsets.items():
        device = devices[one.vehicle]
        lines = files.setdefault(f"{device}-{campaign}", [])
        for side, source, faults, chance in _seen(plan, name, campaign=campaign, seed=truth.seed):
            points = measured(
                one.wheel(source).outline, plan.device[device], faults=faults, chance=chance
            )
            lines += _rows(points, plan, label=f"{name},{side},{campaign}")
    _write_outlines(folder / "wheels", plan, files, asset="wheelset")


def _write_rails(folder: Path, plan: Plan, truth: DemoTruth) -> None:
    sections = {one.id: one for one in plan.section}
    files: dict[str, list[str]] = {}
    for (name, campaign), one in truth.sections.items():
        section = sections[name]
        lines = files.setdefault(f"{section.device}-{campaign}", [])
        for side, source, faults, chance in _seen(plan, name, campaign=campaign, seed=truth.seed):
            points = measured(
                one.rail(source).outline,
                plan.device[section.device],
                faults=faults,
                chance=chance,
                rail=section.rail,
                inclination=one.inclination,
            )
            lines += _rows(points, plan, label=f"{name},{side},{campaign}")
    _write_outlines(folder / "rails", plan, files, asset="section")


_Seen = tuple[Side, Side, tuple[FaultPlan, ...], Chance]


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


def _rows(points: Floats, plan: Plan, *, label: str) -> list[str]:
    """Return the points of one outline as rows of a file."""
    digits = POINT_DIGITS[plan.units]
    factor = 1.0 if plan.units == "metric" else 1.0 / MM_PER_INCH
    text = f"{label},%.{digits}f,%.{digits}f"
    zero = f"-{0.0:.{digits}f}"
    rows = [text % (y, z) for y, z in (points * factor).tolist()]
    return [row.replace(zero, zero[1:]) if zero in row else row for row in rows]


def _write_outlines(folder: Path, plan: Plan, files: dict[str, list[str]], *, asset: str) -> None:
    unit = "mm" if plan.units == "metric" else "in"
    for name, rows in files.items():
        header = [_first_line(plan), f"{asset},side,campaign,y_{unit},z_{unit}"]
        write_lines(folder / f"{name}.csv", header + rows)
