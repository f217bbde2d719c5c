"""An invented raw survey of two wheelsets and two sections, written as text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

CONFIG = """survey = 1
name = "Ostrel, invented"
invented = true
units = "metric"
limits = ["eu-in-service"]
note = "INVENTED: no such railway exists."
"""

TABLES = {
    "campaigns": """campaign,date,device,repeatability_mm
spring,2031-04-02,invented laser,0.03
autumn,2031-10-05,invented laser,0.03
""",
    "vehicles": """vehicle,fleet,kind,wheel_design,axle_load_kn,powered
V1,Marl,coach,S1002,120,no
""",
    "wheelsets": """wheelset,vehicle,axle,campaign,left_diameter_mm,right_diameter_mm,\
back_to_back_mm
W1,V1,1,spring,918.2,918.0,1360.1
W2,V1,2,spring,917.5,917.9,1360.4
W1,V1,1,autumn,917.1,916.8,1360.1
""",
    "kilometres": """line,track,km,continues_km
Ostrel,1,1.500,2.000
Ostrel,1,3.200,3.000
""",
    "route": """line,track,from_km,to_km,kind,radius_m,cant_mm,speed_kmh,tonnage_mt_per_year
Ostrel,1,0.000,1.000,straight,,,100,8.5
Ostrel,1,1.000,1.100,transition,,,80,8.5
Ostrel,1,1.100,1.500,curve,-450,90,80,8.5
Ostrel,1,2.000,2.100,transition,,,80,8.5
Ostrel,1,2.100,3.200,straight,,,100,8.5
Ostrel,1,3.000,4.000,straight,,,100,8.5
""",
    "sections": """section,line,track,km,stretch,campaign,rail_design,gauge_mm,\
gauge_known,inclination
S1,Ostrel,1,1.250,,spring,60E1,1436.2,measured,1:40
S2,Ostrel,1,3.100,2,spring,60E1,1435.4,measured,1:40
S1,Ostrel,1,1.250,,autumn,60E1,1436.9,measured,1:40
""",
    "services": """fleet,line,share,speed_kmh
Marl,Ostrel,1.0,100
""",
    "inspections": """subject,asset,side,campaign,kind,length_mm,depth_mm,note
rail,S1,right,spring,squat,22,3,
wheel,W2,left,spring,flat,31,,
""",
    "treatments": """kind,asset,date,removed_mm
turning,W1,2031-06-11,6.2
grinding,S1,2031-07-01,0.3
""",
    "lubricators": """lubricator,line,track,km,kind,state
L1,Ostrel,1,1.050,gauge-face,working
""",
    "bands": """section,side,campaign,centre_mm,width_mm
S1,left,spring,-8.5,14
""",
    "friction": """section,side,campaign,place,friction
S1,left,spring,top,0.42
S1,left,spring,gauge-face,0.18
""",
}


def outline_rows(asset: str, side: str, campaign: str, shift_mm: float = 0.0) -> str:
    """Return the rows of a plain curve, distinct for each shift."""
    return "".join(
        f"{asset},{side},{campaign},{y:.1f},{0.001 * y * y - 0.025 * y + shift_mm:.4f}\n"
        for y in range(-30, 31, 2)
    )


def write_raw(folder: Path, tables: dict[str, str] | None = None) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "survey.toml").write_text(CONFIG)
    for name, text in (TABLES if tables is None else tables).items():
        (folder / f"{name}.csv").write_text(text)
    (folder / "wheels").mkdir(exist_ok=True)
    (folder / "rails").mkdir(exist_ok=True)
    wheels = "wheelset,side,campaign,y_mm,z_mm\n"
    rails = "section,side,campaign,y_mm,z_mm\n"
    for side in ("left", "right"):
        shift = 0.1 if side == "left" else 0.2
        wheels += outline_rows("W1", side, "spring", shift)
        wheels += outline_rows("W1", side, "autumn", shift + 1.0)
        wheels += outline_rows("W2", side, "spring", shift + 2.0)
        rails += outline_rows("S1", side, "spring", shift + 3.0)
        rails += outline_rows("S2", side, "spring", shift + 4.0)
    (folder / "wheels" / "all.csv").write_text(wheels)
    (folder / "rails" / "all.csv").write_text(rails)
    return folder


@pytest.fixture
def tables() -> dict[str, str]:
    return dict(TABLES)


@pytest.fixture
def make_raw(tmp_path: Path) -> Callable[..., Path]:
    """Write a raw survey; tables given replace or, as ``None``, leave out its own."""

    def make(name: str = "raw", **changed: str | None) -> Path:
        chosen = {**TABLES, **changed}
        return write_raw(
            tmp_path / name, {key: text for key, text in chosen.items() if text is not None}
        )

    return make


@pytest.fixture
def raw(make_raw: Callable[..., Path]) -> Path:
    return make_raw()


@pytest.fixture
def rows() -> Callable[..., str]:
    return outline_rows
