"""``tapertread steer``: whether this shape can roll through a curve without its flange."""

from __future__ import annotations

import math
from collections.abc import Iterator

import click

from tapertread.cli.answers import Answer, sources_listed
from tapertread.cli.house_command import house_command
from tapertread.cli.pair import heading, notes_on_rims, paired, shown_table, stands_between
from tapertread.cli.pairing_options import SETUP_KEYS, Setup, pairing_options
from tapertread.cli.value_types import FINITE
from tapertread.cli.wording import notes_text, pairs_text, paragraphs, value_text
from tapertread.contact import Steering, finite_or_none, steer_curve
from tapertread.contact.flange import FLANGE_ANGLE_RAD, TREAD_ANGLE_RAD, TWO_POINT_GAP_MM
from tapertread.contact.steering import Reversal
from tapertread.errors import WrongUsage
from tapertread.units import UnitSystem, curve_text, radius_m_from_degree_of_curve

SOURCES = frozenset({"derived", "trade-practice"})
AT_EACH_SHIFT = "range_mm, rolling_radius_difference_mm"
TREAD_ANGLE_DEG = round(math.degrees(TREAD_ANGLE_RAD), 6)
FLANGE_ANGLE_DEG = round(math.degrees(FLANGE_ANGLE_RAD), 6)
OFF_TAPE_SHARE = 0.05
"""Contact places this much nearer or farther apart than the tape circles are worth a note."""

BY_SHAPE_ALONE = (
    "flange_free_by_shape: by shape alone; springs of the bogie, cant deficiency and traction can "
    "still press a flange against the rail, and nothing here is a clearance to run"
)


KEYS = {
    **SETUP_KEYS,
    "curve_radius_m": "> 0 turns right, so that the left rail is the outer one",
    "needed_difference_mm": "outer - inner for pure rolling: tape-circle distance x radius / curve",
    "available_difference_mm": "tread: at the last shift on the tread alone; with_flange_root: the "
    "largest from there on, before the flange face bears",
    "available_at_outward_shift_mm": "the outward shifts that belong to them",
    "tread_angle_deg": "contact flatter than this is on the tread",
    "flange_angle_deg": "contact steeper than this is on the flange face",
    "equilibrium_outward_shift_mm": "outward shift of pure rolling, null if out of reach",
    "flange_free_by_shape": "whether the tread alone gives what is needed, by shape alone",
    "steering_share": "available on the tread / needed, 0 to 1",
    "two_point_from_mm": f"outward shift from which a second place of the outer wheel comes within "
    f"{TWO_POINT_GAP_MM:g} mm, one of both toward the flange root; null if none does",
    "contact_spacing_mm": "distance of the two contact places along the axle, at equilibrium or at "
    "the end of the tread",
    "reversal": "where it steers the wrong way: from_shift_mm, to_shift_mm, side, wheel_y_mm, "
    "rail_y_mm, difference_mm; else null",
    "shift_mm": "shifts of the axle centre, > 0 toward the right rail",
    "range_mm": "first and last of them with stable contact",
    "rolling_radius_difference_mm": "right - left at each shift",
    "notes": "what is null and why, and what the answer does not say",
    "sources": "what the answer rests on: key, text, status; key null for a drawing's own words",
}


@house_command(
    "steer",
    example="tapertread steer --wheel S1002 --rail 60E1 --inclination 1:40 --curve-radius 600",
    keys=KEYS,
)
@click.option("--curve-radius", type=FINITE, help="Radius of the curve in m, > 0 turns right.")
@click.option(
    "--curve-degrees", type=FINITE, help="Degree of curve by the 100 ft chord, > 0 turns right."
)
@pairing_options
def command(setup: Setup, *, curve_radius: float | None, curve_degrees: float | None) -> Answer:
    """Ask whether a shape rolls through a curve without its flange.

    On a curve the outer wheel has farther to go. It can, if the shape gives it a larger rolling
    radius than the inner wheel has: so much is needed, so much is available on the tread alone, and
    so much when the flange root bears too.
    """
    radius_m = _radius_m(curve_radius, curve_degrees)
    pairing = paired(setup)
    steering = steer_curve(pairing.reach, curve_radius_m=radius_m)
    tape = setup.wheelset.tape_circle_distance_mm
    notes = [*setup.notes, *_notes(steering, tape), *notes_on_rims(pairing.table), BY_SHAPE_ALONE]
    table = shown_table(setup)
    return Answer(
        data={
            **setup.to_dict(),
            **_data(steering),
            "shift_mm": table.shift_mm,
            "range_mm": stands_between(table),
            "rolling_radius_difference_mm": table.rolling_radius_difference_mm,
            "notes": [*notes, *(f"{AT_EACH_SHIFT}: {note}" for note in table.notes)],
            "sources": sources_listed(SOURCES, of_shapes=setup.sources),
        },
        text=paragraphs(
            f"{heading(setup)}, curve {curve_text(radius_m, system=setup.asked.show)}",
            pairs_text(_facts(steering, setup.asked.show)),
            notes_text(notes),
        ),
    )


def _radius_m(radius_m: float | None, degrees: float | None) -> float:
    """Return the radius of the one curve that was named, m.

    Raises
    ------
    WrongUsage
        If none was, two were, or it is no curve.
    """
    if (radius_m is None) == (degrees is None):
        raise WrongUsage("name the curve once: --curve-radius M or --curve-degrees D")
    if radius_m == 0.0 or degrees == 0.0:
        raise WrongUsage("a curve of 0 is none; straight track needs no steering")
    if radius_m is not None:
        return radius_m
    try:
        return radius_m_from_degree_of_curve(float(degrees or 0.0))
    except ValueError as error:
        raise WrongUsage(f"--curve-degrees: {error}") from None


def _data(steering: Steering) -> dict[str, object]:
    return {
        "curve_radius_m": steering.curve_radius_m,
        "needed_difference_mm": steering.needed_difference_mm,
        "available_difference_mm": {
            "tread": steering.available_tread_mm,
            "with_flange_root": steering.available_with_root_mm,
        },
        "available_at_outward_shift_mm": {
            "tread": steering.tread_shift_mm,
            "with_flange_root": steering.root_shift_mm,
        },
        "tread_angle_deg": TREAD_ANGLE_DEG,
        "flange_angle_deg": FLANGE_ANGLE_DEG,
        "equilibrium_outward_shift_mm": steering.equilibrium_outward_shift_mm,
        "flange_free_by_shape": steering.flange_free_by_shape,
        "steering_share": steering.share,
        "two_point_from_mm": steering.two_point_from_mm,
        "contact_spacing_mm": finite_or_none(steering.contact_spacing_mm),
        "reversal": None if steering.reversal is None else _reversal(steering.reversal),
    }


def _reversal(reversal: Reversal) -> dict[str, object]:
    return {
        "from_shift_mm": reversal.from_mm,
        "to_shift_mm": reversal.to_mm,
        "side": reversal.side,
        "wheel_y_mm": reversal.wheel_y_mm,
        "rail_y_mm": reversal.rail_y_mm,
        "difference_mm": reversal.difference_mm,
    }


def _notes(steering: Steering, tape_circles_mm: float) -> Iterator[str]:
    yield from _notes_on_two_points(steering)
    yield from _notes_on_spacing(steering, tape_circles_mm)
    if steering.equilibrium_outward_shift_mm is None:
        yield "equilibrium_outward_shift_mm: the shape cannot give what the curve needs"
    if steering.reversal is None:
        yield "reversal: it nowhere steers the wrong way on its way outward"
    else:
        yield (
            f"reversal: between {steering.reversal.from_mm:.2f} and {steering.reversal.to_mm:.2f} "
            f"mm of shift the {steering.reversal.side} wheel bears on its field side and steers "
            "the wrong way"
        )


def _notes_on_two_points(steering: Steering) -> Iterator[str]:
    near = steering.two_point_from_mm
    if near is None:
        yield (
            f"two_point_from_mm: no second place of the outer wheel comes within "
            f"{TWO_POINT_GAP_MM:g} mm toward its flange root"
        )
    elif steering.flange_free_in_two_points:
        yield (
            f"flange_free_by_shape: from {near:.2f} mm outward a second place toward the flange "
            f"root is within {TWO_POINT_GAP_MM:g} mm, and pure rolling lies beyond; loaded bodies "
            "touch there in two points, so that flange-free is optimistic"
        )


def _notes_on_spacing(steering: Steering, tape_circles_mm: float) -> Iterator[str]:
    """Yield the need by where the wheels really touch, where that is far off the tape circles."""
    spacing, radius = steering.contact_spacing_mm, steering.contact_radius_mm
    if spacing is None or radius is None or not math.isfinite(spacing):
        return
    if abs(spacing - tape_circles_mm) <= OFF_TAPE_SHARE * tape_circles_mm:
        return
    share = spacing / tape_circles_mm
    rolling = spacing * radius / (1000.0 * abs(steering.curve_radius_m))
    yield (
        f"needed_difference_mm: the wheels touch {spacing:.2f} mm apart, the tape circles are "
        f"{tape_circles_mm:.2f} mm apart; with the spacing of the contact places "
        f"{share * steering.needed_difference_mm:.3f} mm would be needed, and {rolling:.3f} mm "
        f"with the mean radius of {radius:.2f} mm on which they roll there as well"
    )


def _facts(steering: Steering, show: UnitSystem) -> Iterator[tuple[str, str]]:
    def mm(value: float | None) -> str:
        return value_text(value, "mm", system=show)

    tread, face = f"below {TREAD_ANGLE_DEG:g}°", f"below {FLANGE_ANGLE_DEG:g}°"
    yield "difference needed", mm(steering.needed_difference_mm)
    yield f"available on the tread ({tread})", mm(steering.available_tread_mm)
    yield f"available with flange root ({face})", mm(steering.available_with_root_mm)
    yield "second place near from outward shift", mm(steering.two_point_from_mm)
    yield "rolls freely at outward shift", mm(steering.equilibrium_outward_shift_mm)
    yield "steering share of the tread", f"{100.0 * steering.share:.0f} %"
    yield "flange-free by shape", "yes" if steering.flange_free_by_shape else "no"
