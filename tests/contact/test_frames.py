"""Results as tables and as plain values."""

from __future__ import annotations

import json

import numpy as np

from tapertread.contact import TrackShape, WheelsetShape, conicity, contact_table
from tapertread.shapes.designs import design


def table_beyond_contact() -> tuple[WheelsetShape, TrackShape]:
    """Return a 75 degree flange, whose stable contact ends where its flange stops the axle."""
    wheel, rail = design("freight-1-20"), design("60E1")
    return (
        WheelsetShape(
            left=wheel,
            right=wheel,
            left_radius_mm=460.0,
            right_radius_mm=460.0,
            back_to_back_mm=1360.0,
        ),
        TrackShape(left=rail, right=rail),
    )


def test_a_table_has_a_row_for_each_shift_and_null_where_nothing_touches() -> None:
    table = contact_table(*table_beyond_contact())
    frame = table.to_frame()
    assert frame.height == table.shift_mm.size
    assert frame["shift_mm"].to_list() == table.shift_mm.tolist()
    assert frame["roll_rad"].null_count() == int(np.isnan(table.roll_rad).sum()) > 0
    assert not frame["roll_rad"].is_nan().any()
    assert set(frame.columns) == set(table.columns())


def test_plain_values_are_strict_json_of_full_length() -> None:
    table = contact_table(*table_beyond_contact())
    plain = json.loads(json.dumps(table.to_dict(), allow_nan=False))
    assert len(plain["right_contact_angle_rad"]) == table.shift_mm.size
    assert plain["right_contact_angle_rad"][0] is None
    assert plain["right_end"] == "climbs"
    assert plain["notes"]


def test_conicity_carries_its_reasons_into_the_table() -> None:
    curve = conicity(contact_table(*table_beyond_contact()), amplitudes_mm=(3.0, 8.0))
    frame = curve.to_frame()
    assert frame["value"].null_count() == 1
    assert frame["reason"].to_list() == list(curve.reasons)
    plain = json.loads(json.dumps(curve.to_dict(), allow_nan=False))
    assert plain["value"][1] is None
    assert plain["reasons"][1].startswith("not assessed")
