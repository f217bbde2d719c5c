"""Records and outlines as rows of the store and back, for any values."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from tapertread.railway import RoutePiece, Wheelset
from tapertread.shapes.outline import Outline
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.survey.outline_rows import content_of, place_of, points_as_bytes, points_from_bytes
from tapertread.survey.record_filing import payload_of, record_of

finite = st.floats(allow_nan=False, allow_infinity=False, width=64)


@given(finite, st.none() | finite, st.text(max_size=20))
def test_records_come_back_as_they_were(km: float, share: float | None, name: str) -> None:
    piece = RoutePiece(
        line=name,
        track="1",
        from_km=km,
        to_km=km,
        kind="straight",
        speed_kmh=80.0,
        rising_share=share,
    )
    assert record_of("route", payload_of(piece)) == piece


def test_payloads_are_strict_json_without_infinity() -> None:
    piece = RoutePiece(line="L", track="1", from_km=0.0, to_km=1.0, kind="straight", speed_kmh=80.0)
    assert json.loads(payload_of(piece), parse_constant=pytest.fail)["radius_m"] == "inf"
    wheelset = Wheelset(wheelset="W", vehicle="V", axle=1, campaign="c")
    assert record_of("wheelsets", payload_of(wheelset)) == wheelset


@given(arrays(np.float64, (2, 7), elements=finite))
def test_points_come_back_bit_for_bit(points: np.ndarray) -> None:
    outline = Outline(kind="wheel", y_mm=points[0], z_mm=points[1])
    y, z = points_from_bytes(points_as_bytes(outline))
    assert y.tobytes() == points[0].tobytes()
    assert z.tobytes() == points[1].tobytes()


def raw(**changed: object) -> RawOutline:
    outline = Outline(kind="rail", y_mm=np.arange(5.0), z_mm=np.arange(5.0))
    facts = {"asset": "S1", "side": "left", "campaign": "spring", **changed}
    return RawOutline(outline=outline, **facts)  # type: ignore[arg-type]


def test_the_place_is_kind_asset_side_and_moment() -> None:
    assert place_of(raw()) == "rail|S1|left|(spring)"
    timed = raw(time="2031-04-02T10:00:00")
    assert place_of(timed) == "rail|S1|left|2031-04-02T10:00:00"
    assert place_of(raw(campaign="autumn")) != place_of(raw())


def test_the_content_is_points_and_how_to_take_them() -> None:
    one = raw()
    yz = points_as_bytes(one.outline)
    same = content_of(raw(campaign="autumn", recipe_name="other"), yz, frame="rail-axis")
    assert content_of(one, yz, frame="rail-axis") == same
    for other in (
        content_of(raw(stylus_radius_mm=1.5), yz, frame="rail-axis"),
        content_of(one, yz, frame="track-plane"),
        content_of(one, yz[:-1] + b"\x01", frame="rail-axis"),
    ):
        assert other != same
