"""One function for any picture, and the adapting of lower rooms' records."""

import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from tapertread.contact.conicity import ConicityCurve
from tapertread.contact.flange import FlangeContact
from tapertread.contact.steering import Steering
from tapertread.limits.verdicts import Verdict, Word
from tapertread.report import draw
from tapertread.report.adapting import curve_needs
from tapertread.shapes.measured import Measured

STEERING = Steering(
    curve_radius_m=300.0,
    needed_difference_mm=2.3,
    available_tread_mm=1.2,
    available_with_root_mm=3.7,
    tread_shift_mm=4.0,
    root_shift_mm=5.0,
    equilibrium_outward_shift_mm=4.6,
    flange_free_by_shape=False,
    share=0.52,
    reversal=None,
)


def test_outlines_and_tables_are_drawn(table):
    for result in (table.wheelset.left, table.track.left, table):
        assert ET.fromstring(draw(result)).attrib["role"] == "img"


def test_a_table_is_drawn_at_its_most_central_contact(table):
    lost = np.where(np.abs(table.shift_mm) < 1.0, np.nan, table.roll_rad)
    assert "1.00 mm to the" in draw(replace(table, roll_rad=lost))
    assert "axle centred" in draw(table)


def test_verdicts_are_drawn_on_their_scale(limits):
    measured = Measured.of(21.4, "mm", noise=0.1)
    assert "at least 22.00 mm" in draw(Verdict(word=Word.OUT, measured=measured, limit=limits[0]))
    with pytest.raises(TypeError, match="without value or limit"):
        draw(Verdict(word=Word.SOUND, measured=measured))


def test_what_has_no_picture_is_refused_with_what_has_one():
    with pytest.raises(TypeError, match=r"no picture for dict; known: .*ContactTable.*Outline"):
        draw({})


def test_conicity_is_drawn():
    curve = ConicityCurve(
        amplitude_mm=np.array([1.0, 2.0, 3.0]),
        value=np.array([0.1, 0.12, np.nan]),
        harmonic=np.array([0.1, 0.13, 0.15]),
        reasons=("", "", "diverges"),
        line_mm=0.0,
    )
    assert "equivalent conicity" in draw(curve).lower()


def test_signs_of_a_right_curve():
    """Curve radius > 0 turns right: the left rail is the outer one, so outward is negative."""
    flange = FlangeContact(right_mm=5.3, left_mm=-5.2, angle_rad=math.radians(30))
    needs = curve_needs(STEERING, flange)
    assert needs.needed_difference_mm == -2.3
    assert needs.equilibrium_shift_mm == -4.6
    assert needs.free_shifts_mm == (-5.2, 5.3)


def test_signs_of_a_left_curve():
    needs = curve_needs(replace(STEERING, curve_radius_m=-300.0), None)
    assert needs.needed_difference_mm == 2.3
    assert needs.equilibrium_shift_mm == 4.6
    assert needs.free_shifts_mm is None


def test_straight_line_and_missing_flange_need_nothing():
    one_sided = FlangeContact(right_mm=5.3, left_mm=None, angle_rad=0.5)
    needs = curve_needs(replace(STEERING, curve_radius_m=math.inf), one_sided)
    assert needs.needed_difference_mm is None
    assert needs.free_shifts_mm is None


def test_no_equilibrium_stays_none():
    needs = curve_needs(replace(STEERING, equilibrium_outward_shift_mm=None), None)
    assert needs.equilibrium_shift_mm is None
    assert needs.needed_difference_mm == -2.3
