"""Columns and cells of the tables, metric and US, against exact definitions of the units."""

from pathlib import Path

import pytest

from tapertread.demo.tables import cell, column_of, write_table
from tapertread.railway.records import Campaign, RoutePiece


@pytest.mark.parametrize(
    ("field", "us"),
    [
        ("gauge_mm", "gauge_in"),
        ("km", "mi"),
        ("from_km", "from_mi"),
        ("radius_m", "curve_deg"),
        ("speed_kmh", "speed_mph"),
        ("axle_load_kn", "axle_load_kip"),
        ("tonnage_mt_per_year", "tonnage_mgt_per_year"),
        ("bogie_wheelbase_m", "bogie_wheelbase_ft"),
        ("left_hardness_hb", "left_hardness_hb"),
        ("wheelset", "wheelset"),
    ],
)
def test_columns_carry_their_unit(field: str, us: str) -> None:
    assert column_of(field, "us") == us
    assert column_of(field, "metric") == field


@pytest.mark.parametrize(
    ("value", "field", "system", "text"),
    [
        (25.4, "gauge_mm", "us", "1"),
        (1.609344, "km", "us", "1"),
        (4.4482216152605, "axle_load_kn", "us", "1"),
        (0.90718474, "tonnage_mt_per_year", "us", "1"),
        (291.2, "radius_m", "metric", "291.2"),
        (float("inf"), "radius_m", "metric", "straight"),
        (float("inf"), "radius_m", "us", "0"),
        (-0.0001, "removed_mm", "metric", "0"),
        (None, "gauge_mm", "us", ""),
        (True, "powered", "us", "true"),
        (3, "axle", "metric", "3"),
        ("one, two", "note", "metric", '"one, two"'),
    ],
)
def test_cells_hold_the_value_in_their_unit(
    value: object, field: str, system: str, text: str
) -> None:
    column = column_of(field, system)  # type: ignore[arg-type]
    assert cell(value, field=field, column=column) == text


def test_a_table_has_its_header_first_and_a_row_a_record(tmp_path: Path) -> None:
    rows = [Campaign(campaign="a", date="2031-01-02"), Campaign(campaign="b", date="2032-01-02")]
    write_table(tmp_path / "campaigns.csv", rows, kind=Campaign, system="us")
    lines = (tmp_path / "campaigns.csv").read_bytes().split(b"\n")
    assert lines[0] == b"campaign,date,device,repeatability_in"
    assert lines[2] == b"b,2032-01-02,,"
    assert lines[3:] == [b""]


def test_a_us_curve_is_its_degree() -> None:
    """6 degrees by the 100 ft chord: R = 15.24 m / sin 3° = 291.196 m."""
    piece = RoutePiece(
        line="L",
        track="1",
        from_km=0.0,
        to_km=1.0,
        kind="curve",
        radius_m=-291.1959,
        speed_kmh=50.0,
    )
    assert float(cell(piece.radius_m, field="radius_m", column="curve_deg")) == pytest.approx(
        -6.0, abs=1e-4
    )
