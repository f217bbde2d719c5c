"""Writing the survey folder of an invented railway, and handing its truth back."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tapertread.demo import readings, registers
from tapertread.demo.ageing_rails import SIDES, section_truths
from tapertread.demo.ageing_wheels import wheelset_truths
from tapertread.demo.line import kilometre_jumps, route_pieces
from tapertread.demo.outlines import write_rails, write_wheels
from tapertread.demo.plan import Plan, Which, read_plan
from tapertread.demo.tables import write_lines, write_table
from tapertread.demo.truth import DemoTruth, Planted
from tapertread.errors import SurveyRefused, Where
from tapertread.railway import records

MARK = "# Invented by the demo of tapertread"
"""First line of a survey that this room wrote, and may write again."""


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
    write_wheels(folder / "wheels", plan, truth)
    write_rails(folder / "rails", plan, truth)
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
    truth = DemoTruth(
        which=which,
        seed=chosen,
        folder=Path(folder),
        campaigns=plan.campaigns,
        wheelsets=wheelset_truths(plan, seed=chosen),
        sections=section_truths(plan, seed=chosen),
        planted=tuple(_planted(plan)),
    )
    return replace(truth, planted=(*truth.planted, *_field_lips(truth)))


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


def _field_lips(truth: DemoTruth) -> Iterator[Planted]:
    """Yield the lips that crushing pushed over a field flank, which aligning may hold for new."""
    for one in truth.sections.values():
        for side in SIDES:
            lip = one.rail(side).wear.field_lip_mm
            if lip > 0.0:
                yield Planted(
                    trap="lip-on-field-flank",
                    asset=one.section,
                    campaign=one.campaign,
                    side=side,
                    size=round(lip, 3),
                    unit="mm",
                )


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
        ("wheelsets", records.Wheelset, readings.wheelsets(plan, truth)),
        ("sections", records.Section, readings.sections(plan, truth)),
        ("route", records.RoutePiece, route_pieces(plan)),
        ("kilometres", records.KilometreJump, kilometre_jumps(plan)),
        ("services", records.Service, registers.services(plan)),
        ("inspections", records.Inspection, registers.inspections(plan)),
        ("treatments", records.Treatment, registers.treatments(plan, truth)),
        ("lubricators", records.Lubricator, registers.lubricators(plan)),
        ("bands", records.ContactBand, list(readings.bands(plan, truth))),
        ("friction", records.FrictionReading, list(readings.friction_readings(plan, truth))),
    ]
    for name, kind, rows in tables:
        if rows:
            write_table(folder / f"{name}.csv", rows, kind=kind, system=plan.units)
