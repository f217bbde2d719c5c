"""``tapertread pair``: one wheelset on one track."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tapertread.cli.answers import Answer, sources_listed
from tapertread.cli.house_command import house_command
from tapertread.cli.pairing_options import SETUP_KEYS, Setup, pairing_options
from tapertread.cli.wording import (
    NOTHING,
    notes_text,
    pairs_text,
    paragraphs,
    table_text,
    value_text,
)
from tapertread.contact import (
    ContactTable,
    Pairing,
    SideContacts,
    contact_bandwidth,
    contact_table,
    finite_or_none,
    pair_up,
    rides_rim,
    smoothed_difference_mm,
)
from tapertread.contact.records import Floats
from tapertread.errors import ContactRefused
from tapertread.units import UnitSystem

SOURCES = frozenset(
    {"derived", "en15302-2021", "netter-1998", "polach-2010", "tsi-locpas-2014", "trade-practice"}
)
AT_EACH_SHIFT = (
    "range_mm, roll_rad, right, left, rolling_radius_difference_mm, smoothed_difference_mm"
)
REACH_MM = 10.0
"""Rolling lines, conicity and flange contact look at least so far, whatever the span shown."""


KEYS = {
    **SETUP_KEYS,
    "shift_mm": "shifts of the axle centre, > 0 toward the right rail",
    "range_mm": "first and last of them with stable contact; beyond, arrays hold null",
    "roll_rad": "roll at each shift, > 0 lowers the right wheel",
    "right": "at each shift wheel_y_mm, wheel_z_mm, rail_y_mm, rail_z_mm, rolling_radius_mm, "
    "contact_angle_rad, wheel_curvature_per_mm, rail_curvature_per_mm; second: the next place and "
    "its gap_mm",
    "left": "the same on the left",
    "rolling_radius_difference_mm": "right - left at each shift",
    "smoothed_difference_mm": "the same, its jumps softened as by loaded bodies",
    "equivalent_conicity": "amplitude_mm, value by the period of the wave about the rolling line, "
    "harmonic, and standard_value at the standard_amplitude_mm that the clearance asks for",
    "nonlinearity_per_mm": "half the change of conicity from 2 to 4 mm, per mm",
    "rolling_lines_mm": "every shift_mm of equal radii, whether stable, whether on_flange",
    "flange_contact_shift_mm": "smaller size of the shifts at which a flange face bears",
    "flange_contact": "right_mm, left_mm: shifts at which that flange bears; angle_rad: from which",
    "climbing_from_mm": "right, left: shift from which outward that wheel stands on its flange "
    "face and climbs; null if neither does",
    "clearance_mm": "gauge less active flange spacing",
    "bandwidth": "wheel_mm, rail_mm: how far contact wanders over amplitude_mm about the line",
    "notes": "what is null and why, what was done to measured outlines",
    "sources": "what the answer rests on: key, text, status; key null for a drawing's own words",
}


@house_command(
    "pair", example="tapertread pair --wheel S1002 --rail 60E1 --inclination 1:40", keys=KEYS
)
@pairing_options
def command(setup: Setup) -> Answer:
    """Put one wheelset on one track: where they touch, how it steers.

    Shift is of the axle centre, > 0 toward the right rail; difference is right minus left. Contact
    is rolling contact of rigid shapes with the roll solved; the smoothed difference softens its
    jumps as loaded bodies do.
    """
    pairing = paired(setup)
    table = shown_table(setup)
    return Answer(
        data=_data(setup, pairing, table),
        text=paragraphs(
            heading(setup),
            pairs_text(_facts(pairing, setup.asked.show)),
            table_text(("amplitude mm", "by period", "harmonic"), _conicity_rows(pairing)),
            table_text(_HEAD, _shift_rows(table)),
            notes_text(_notes(setup, pairing, table)),
        ),
    )


def paired(setup: Setup) -> Pairing:
    """Return all that the shapes do together, over a reach that does not depend on the span.

    Raises
    ------
    ContactRefused
        If the wheelset cannot stand on the track.
    """
    reach = max(REACH_MM, setup.asked.span)
    try:
        return pair_up(
            setup.wheelset,
            setup.track,
            shifts_mm=_shifts(reach, 0.25),
            yaw_rad=setup.asked.yaw_mrad / 1000.0,
        )
    except ContactRefused as refused:
        raise setup.advised(refused) from None


def shown_table(setup: Setup) -> ContactTable:
    """Return the contact table over the span and in the step that were asked for."""
    return contact_table(
        setup.wheelset,
        setup.track,
        shifts_mm=_shifts(setup.asked.span, setup.asked.step),
        yaw_rad=setup.asked.yaw_mrad / 1000.0,
    )


def _shifts(span_mm: float, step_mm: float) -> Floats:
    """Return shifts from the centre to both sides, in whole steps within the span."""
    count = int(span_mm / step_mm + 1e-9)
    return np.arange(-count, count + 1, dtype=np.float64) * step_mm


def heading(setup: Setup) -> str:
    """Return what was put together, in one line."""
    asked, show = setup.asked, setup.asked.show
    wheels = " and ".join(dict.fromkeys(one.label for one in setup.wheels))
    rails = " and ".join(dict.fromkeys(one.label for one in setup.rails))
    lean = "upright" if asked.inclination == 0.0 else f"inclined 1:{1.0 / asked.inclination:g}"
    return (
        f"{wheels} on {rails}, {lean}, gauge {value_text(asked.gauge, 'mm', system=show)}, "
        f"back-to-back {value_text(asked.back_to_back, 'mm', system=show)}, "
        f"wheel radius {value_text(asked.wheel_radius, 'mm', system=show)}"
    )


def stands_between(table: ContactTable) -> list[float | None]:
    """Return the first and the last shift with stable contact on both rails, mm."""
    stands = np.nonzero(np.isfinite(table.roll_rad))[0]
    if stands.size == 0:
        return [None, None]
    return [float(table.shift_mm[stands[0]]), float(table.shift_mm[stands[-1]])]


def _data(setup: Setup, pairing: Pairing, table: ContactTable) -> dict[str, object]:
    amplitude = pairing.standard_amplitude_mm
    return {
        **setup.to_dict(),
        "shift_mm": table.shift_mm,
        "range_mm": stands_between(table),
        "roll_rad": table.roll_rad,
        "right": _side(table.right),
        "left": _side(table.left),
        "rolling_radius_difference_mm": table.rolling_radius_difference_mm,
        "smoothed_difference_mm": smoothed_difference_mm(table),
        "equivalent_conicity": {
            "amplitude_mm": pairing.conicity.amplitude_mm,
            "value": pairing.conicity.value,
            "harmonic": pairing.conicity.harmonic,
            "standard_amplitude_mm": amplitude,
            "standard_value": pairing.standard_conicity,
        },
        "nonlinearity_per_mm": pairing.nonlinearity_per_mm,
        "rolling_lines_mm": [
            {"shift_mm": line.shift_mm, "stable": line.stable, "on_flange": line.on_flange}
            for line in pairing.lines
        ],
        "flange_contact_shift_mm": pairing.flange.nearest_mm,
        "flange_contact": {
            "right_mm": pairing.flange.right_mm,
            "left_mm": pairing.flange.left_mm,
            "angle_rad": pairing.flange.angle_rad,
        },
        "climbing_from_mm": _climbing(pairing),
        "clearance_mm": pairing.clearance_mm,
        "bandwidth": _bandwidth(pairing),
        "notes": list(_notes(setup, pairing, table)),
        "sources": sources_listed(SOURCES, of_shapes=setup.sources),
    }


def _side(side: SideContacts) -> dict[str, object]:
    return {
        "wheel_y_mm": side.wheel_y_mm,
        "wheel_z_mm": side.wheel_z_mm,
        "rail_y_mm": side.rail_y_mm,
        "rail_z_mm": side.rail_z_mm,
        "rolling_radius_mm": side.rolling_radius_mm,
        "contact_angle_rad": side.contact_angle_rad,
        "wheel_curvature_per_mm": side.wheel_curvature_per_mm,
        "rail_curvature_per_mm": side.rail_curvature_per_mm,
        "second": {
            "wheel_y_mm": side.second_wheel_y_mm,
            "rail_y_mm": side.second_rail_y_mm,
            "gap_mm": side.second_gap_mm,
        },
    }


def _climbing(pairing: Pairing) -> dict[str, float | None] | None:
    if pairing.flange.nearest_mm is None:
        return None
    return {"right": pairing.flange.right_mm, "left": pairing.flange.left_mm}


def _bandwidth(pairing: Pairing) -> dict[str, float | None]:
    amplitude, line = pairing.standard_amplitude_mm, pairing.conicity.line_mm
    if not np.isfinite(line):
        return {"amplitude_mm": amplitude, "wheel_mm": None, "rail_mm": None}
    band = contact_bandwidth(pairing.table, amplitude_mm=amplitude, line_mm=line)
    return {
        "amplitude_mm": amplitude,
        "wheel_mm": finite_or_none(band.wheel_mm),
        "rail_mm": finite_or_none(band.rail_mm),
    }


def _notes(setup: Setup, pairing: Pairing, table: ContactTable) -> Iterator[str]:
    """Yield what was left out and why, key by key."""
    yield from setup.notes
    for note in table.notes:
        yield f"{AT_EACH_SHIFT}: {note}; null there and beyond"
    for low, high in pairing.neutral_mm:
        yield (
            f"rolling_lines_mm: neutral between {low:.2f} and {high:.2f} mm: both wheels roll on "
            "equal radii at every shift there, and none is steered back to"
        )
    yield from _notes_on_conicity(pairing)
    yield from _notes_on_flanges(pairing)
    yield from notes_on_rims(pairing.table)
    if any(np.isnan(side.second_gap_mm).any() for side in (table.right, table.left)):
        yield "right.second, left.second: null where there is no second place near contact"


def _notes_on_conicity(pairing: Pairing) -> Iterator[str]:
    curve = pairing.conicity
    for amplitude, why in zip(curve.amplitude_mm, curve.reasons, strict=True):
        if why:
            yield f"equivalent_conicity: at {amplitude:g} mm {why}"
    if not np.isfinite(curve.line_mm):
        yield "bandwidth: there is no stable rolling line to weave about"
    if not np.isfinite(pairing.nonlinearity_per_mm):
        yield "nonlinearity_per_mm: conicity is undefined at 2 or 4 mm"


def _notes_on_flanges(pairing: Pairing) -> Iterator[str]:
    for hand, at in (("right", pairing.flange.right_mm), ("left", pairing.flange.left_mm)):
        if at is None:
            yield f"flange_contact: the {hand} flange does not bear within the shifts looked at"
        else:
            yield (
                f"climbing_from_mm: from {at:.2f} mm outward the {hand} wheel stands on its flange "
                "face and climbs; values there are of shape alone, no running position"
            )
    if pairing.flange.nearest_mm is None:
        yield "flange_contact_shift_mm: no flange bears within the shifts looked at"
        yield "climbing_from_mm: no wheel stands on its flange within the shifts looked at"
    if pairing.clearance_mm is None:
        yield "clearance_mm: there is no flange on at least one wheel"


def notes_on_rims(table: ContactTable) -> Iterator[str]:
    """Yield where a wheel stands on its rim, where neither tread nor flange says anything."""
    for hand in ("right", "left"):
        at = table.shift_mm[rides_rim(table, side=hand)]
        if at.size:
            yield (
                f"rim: between {at[0]:g} and {at[-1]:g} mm of shift the {hand} wheel rides its rim "
                "or the field edge of its outline; check gauge, back-to-back and outline"
            )


_HEAD = ("shift mm", "difference mm", "wheel right", "rail right", "wheel left", "rail left")


def _facts(pairing: Pairing, show: UnitSystem) -> Iterator[tuple[str, str]]:
    lines = [
        f"{value_text(line.shift_mm, 'mm', system=show)} "
        f"({'stable' if line.stable else 'unstable'}{', on the flange' if line.on_flange else ''})"
        for line in pairing.lines
    ]
    lines += [
        f"neutral between {value_text(low, 'mm', system=show)} and "
        f"{value_text(high, 'mm', system=show)}"
        for low, high in pairing.neutral_mm
    ]
    amplitude = value_text(pairing.standard_amplitude_mm, "mm", system=show)
    right, left = pairing.flange.right_mm, pairing.flange.left_mm
    yield "clearance", value_text(pairing.clearance_mm, "mm", system=show)
    yield "rolling lines", ", ".join(lines) or NOTHING
    yield "right flange bears at", value_text(right, "mm", system=show)
    yield "left flange bears at", value_text(left, "mm", system=show)
    yield f"conicity at {amplitude}", value_text(pairing.standard_conicity, "", system=show)


def _conicity_rows(pairing: Pairing) -> Iterator[tuple[str, str, str]]:
    curve = pairing.conicity
    for amplitude, value, harmonic in zip(
        curve.amplitude_mm, curve.value, curve.harmonic, strict=True
    ):
        yield f"{amplitude:g}", value_text(value, ""), value_text(harmonic, "")


def _shift_rows(table: ContactTable) -> Iterator[tuple[str, ...]]:
    """Yield a row for about every millimetre."""
    places = (table.right.wheel_y_mm, table.right.rail_y_mm)
    others = (table.left.wheel_y_mm, table.left.rail_y_mm)
    every = max(1, round(1.0 / float(np.diff(table.shift_mm).min())))
    middle = table.shift_mm.size // 2
    for at in range(middle % every, table.shift_mm.size, every):
        values = (table.rolling_radius_difference_mm, *places, *others)
        cells = (f"{one[at]:.2f}" if np.isfinite(one[at]) else NOTHING for one in values)
        yield (f"{table.shift_mm[at]:g}", *cells)
