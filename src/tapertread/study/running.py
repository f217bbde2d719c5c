"""Verdicts on how a wheelset runs, in curves and on straight track."""

from __future__ import annotations

from tapertread.limits import Verdict, Word
from tapertread.shapes.measured import Measured
from tapertread.study.curving import steering_finding
from tapertread.study.ground import (
    Ground,
)
from tapertread.study.held import finding
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import NO_DIAMETER, WheelsetOnHand
from tapertread.study.straights import conicity_finding, line_finding


def wheelset_running(wheelset: WheelsetOnHand, ground: Ground) -> list[Finding]:
    """Return the running verdicts of one wheelset; one that says why, where it has no shape."""
    subject = Subject(kind="wheelset", asset=wheelset.name, group=wheelset.vehicle.fleet)
    met = [one for one in ground.crossing.by_wheelset.get(wheelset.name, ()) if not one.problem]
    if not met:
        return [_no_running(subject, wheelset, ground)]
    found = (
        steering_finding(subject, wheelset, met, ground),
        conicity_finding(subject, wheelset, met, ground),
        line_finding(subject, wheelset, met, ground),
    )
    return [one for one in found if one is not None]


def _no_running(subject: Subject, wheelset: WheelsetOnHand, ground: Ground) -> Finding:
    """Return the finding that says why a wheelset meets no track."""
    reason = _why_nowhere(wheelset, ground)
    why = str(reason.values["why_not"])
    verdict = Verdict(
        word=Word.NOT_ASSESSED, measured=Measured.missing("", why), limit=None, why_not=why
    )
    return finding(
        subject, "tread_steering_share", verdict=verdict, reason=reason, system=ground.system
    )


def _why_nowhere(wheelset: WheelsetOnHand, ground: Ground) -> Reason:
    why = wheelset.why_no_shape()
    code = "no-diameter" if why == NO_DIAMETER else "no-side-outline"
    if not why and wheelset.name in ground.crossing.nowhere:
        code, why = "no-service", "no line is named for its fleet"
    elif not why:
        met = ground.crossing.by_wheelset.get(wheelset.name, ())
        problems = [one.problem for one in met if one.problem]
        why = problems[0] if problems else "no section of the lines it runs can be met"
    return Reason(code=code, values={"why_not": why, "fleet": wheelset.vehicle.fleet})
