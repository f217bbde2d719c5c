"""An invented track with a short and a long kilometre."""

from __future__ import annotations

import pytest

from tapertread.railway import KilometreJump, Route, RoutePiece, build_route


def piece(
    from_km: float,
    to_km: float,
    kind: str = "straight",
    radius_m: float = float("inf"),
    cant_mm: float = 0.0,
) -> RoutePiece:
    return RoutePiece(
        line="Varn",
        track="1",
        from_km=from_km,
        to_km=to_km,
        kind=kind,  # type: ignore[arg-type]
        radius_m=radius_m,
        cant_mm=cant_mm,
        speed_kmh=80.0,
    )


def jump(km: float, continues_km: float) -> KilometreJump:
    return KilometreJump(line="Varn", track="1", km=km, continues_km=continues_km)


@pytest.fixture
def make_piece():  # type: ignore[no-untyped-def]
    return piece


@pytest.fixture
def make_jump():  # type: ignore[no-untyped-def]
    return jump


@pytest.fixture
def jumping() -> Route:
    """Kilometre 10 is 700 m long (short), kilometre 12 has 1350 m (long).

    ========================  =============  ==================
    posts                     length, m      distance, m
    ========================  =============  ==================
    10.000 .. 10.700          700            0 .. 700
    11.000 .. 12.350          1350           700 .. 2050
    12.000 .. 13.000          1000           2050 .. 3050
    ========================  =============  ==================
    """
    return build_route(
        [
            piece(10.000, 10.700),
            piece(11.000, 11.200),
            piece(11.200, 11.300, "transition"),
            piece(11.300, 12.250, "curve", -400.0, 100.0),
            piece(12.250, 12.350, "transition"),
            piece(12.000, 13.000),
        ],
        jumps=[jump(10.700, 11.000), jump(12.350, 12.000)],
    )
