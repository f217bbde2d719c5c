"""The two invented railways, each written, imported and assessed once for all tests of this room.

With several workers the first one that asks does the work; the others wait for what it left.
"""

import hashlib
import os
import pickle
import time
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from tapertread.demo import write_demo
from tapertread.demo.truth import DemoTruth
from tapertread.railway import Section, Vehicle, Wheelset
from tapertread.shapes import design
from tapertread.study import assess as chain
from tapertread.study.assessment import Assessment
from tapertread.study.ground import Ground, with_common_causes
from tapertread.study.meetings import Crossing
from tapertread.study.states import SectionOnHand, WheelsetOnHand
from tapertread.survey import open_or_build, open_survey


@dataclass(frozen=True, kw_only=True)
class Demo:
    """One invented railway: its truth, its assessment, and what was made on the way there."""

    truth: DemoTruth
    assessment: Assessment
    wheelsets: dict[str, WheelsetOnHand]
    sections: dict[str, SectionOnHand]
    crossing: Crossing
    raw: Path
    store: Path
    bytes_before: str
    bytes_after: str

    @property
    def campaign(self) -> str:
        """Name of the last campaign."""
        return self.truth.campaigns[1]

    def ground(self) -> Ground:
        """Return what the running verdicts shared."""
        survey = open_survey(self.store)
        limits = chain.limits_of(survey)
        return with_common_causes(
            Ground(
                crossing=self.crossing,
                sections=self.sections,
                limits=limits,
                system=survey.config.units,
                gauge_rule=chain.gauge_rule_of(survey, limits),
            )
        )

    def findings(self, asset, quantity=None):
        """Return the findings on an asset."""
        return [
            one
            for one in self.assessment.findings
            if one.subject.asset == asset and quantity in (None, one.quantity)
        ]

    def the(self, asset, quantity, side="both"):
        """Return the one finding on a quantity."""
        (one,) = [f for f in self.findings(asset, quantity) if f.subject.side == side]
        return one


def folder_hash(folder: Path) -> str:
    """Return one hash of every file below a folder, with its name."""
    every = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            every.update(str(path.relative_to(folder)).encode())
            every.update(path.read_bytes())
    return every.hexdigest()


@contextmanager
def once(path: Path):
    """Yield whether this worker is the one to make a file; wait for it otherwise."""
    try:
        handle = os.open(path.with_suffix(".lock"), os.O_CREAT | os.O_EXCL)
    except FileExistsError:
        deadline = time.monotonic() + 120.0
        while not path.exists():
            assert time.monotonic() < deadline, f"nobody made {path}"
            time.sleep(0.05)
        yield False
        return
    os.close(handle)
    yield True


def _made(folder: Path, which: str, monkeypatch: pytest.MonkeyPatch) -> Demo:
    kept = {}

    def keeping(name):
        original = getattr(chain, name)

        def kept_too(*given, **named):
            kept[name] = original(*given, **named)
            return kept[name]

        return kept_too

    for name in ("wheelsets_on_hand", "sections_on_hand", "crossing"):
        monkeypatch.setattr(chain, name, keeping(name))
    truth = write_demo(folder / "raw", which=which)
    survey = open_or_build(folder / "raw", folder / "store")
    before = folder_hash(folder)
    assessment = chain.assess(survey, workers=2)
    return Demo(
        truth=truth,
        assessment=assessment,
        wheelsets={one.name: one for one in kept["wheelsets_on_hand"]},
        sections={one.name: one for one in kept["sections_on_hand"]},
        crossing=kept["crossing"],
        raw=folder / "raw",
        store=folder / "store",
        bytes_before=before,
        bytes_after=folder_hash(folder),
    )


def _demo(which: str, tmp_path_factory: pytest.TempPathFactory) -> Demo:
    base = tmp_path_factory.getbasetemp()
    root = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    file = root / f"study-{which}.pickle"
    with once(file) as mine:
        if mine:
            folder = root / f"study-{which}"
            folder.mkdir()
            with pytest.MonkeyPatch.context() as monkeypatch:
                made = _made(folder, which, monkeypatch)
            part = file.with_suffix(".part")
            part.write_bytes(pickle.dumps(made))
            part.rename(file)
            return made
    return pickle.loads(file.read_bytes())


@pytest.fixture(scope="session")
def main_demo(tmp_path_factory):
    return _demo("main", tmp_path_factory)


@pytest.fixture(scope="session")
def us_demo(tmp_path_factory):
    return _demo("us", tmp_path_factory)


@pytest.fixture(params=["main", "us"])
def either_demo(request):
    return request.getfixturevalue(f"{request.param}_demo")


@pytest.fixture
def vehicle():
    def make(**changed):
        return Vehicle(
            **{
                "vehicle": "V1",
                "fleet": "F",
                "kind": "multiple-unit",
                "orientation": "known",
                "maximum_speed_kmh": 120.0,
                "wheel_design": "S1002",
                **changed,
            }
        )

    return make


@pytest.fixture
def wheelset_record():
    def make(**changed):
        return Wheelset(
            **{
                "wheelset": "W1",
                "vehicle": "V1",
                "axle": 1,
                "campaign": "now",
                "left_diameter_mm": 920.0,
                "right_diameter_mm": 920.0,
                "diameter_uncertainty_mm": 0.1,
                "back_to_back_mm": 1360.0,
                "back_to_back_uncertainty_mm": 0.1,
                **changed,
            }
        )

    return make


@pytest.fixture
def section_record():
    def make(**changed):
        return Section(
            **{
                "section": "S1",
                "line": "L",
                "track": "1",
                "km": 1.0,
                "campaign": "now",
                "rail_design": "60E1",
                "gauge_mm": 1435.0,
                "gauge_known": "measured",
                "gauge_uncertainty_mm": 0.2,
                **changed,
            }
        )

    return make


def long_form(outlines, *, asset):
    """Return the lines of a table of outlines: {(asset, side): outline}."""
    lines = [f"{asset},side,campaign,y_mm,z_mm"]
    for (name, side, campaign), outline in outlines.items():
        for y, z in zip(outline.y_mm, outline.z_mm, strict=True):
            lines.append(f"{name},{side},{campaign},{y:.4f},{z:.4f}")
    return "\n".join(lines) + "\n"


def rough(outline, seed, sigma_mm=0.01):
    """Return an outline as a good device sees it: points every 0.5 mm, a little noise."""
    points = outline.resampled(0.5)
    noise = np.random.default_rng(seed).normal(0.0, sigma_mm, (2, points.y_mm.size))
    return points.with_points(points.y_mm + noise[0], points.z_mm + noise[1])


TABLES = {
    "campaigns": "campaign,date,repeatability_mm\nnow,2031-04-01,0.02\n",
    "vehicles": "vehicle,fleet,kind,orientation,maximum_speed_kmh,wheel_design\n"
    "V1,F,multiple-unit,known,160,S1002\n",
    "wheelsets": "wheelset,vehicle,axle,campaign,left_diameter_mm,right_diameter_mm,"
    "diameter_uncertainty_mm,back_to_back_mm,back_to_back_uncertainty_mm\n"
    "W1,V1,1,now,920.0,920.0,0.05,1360.0,0.1\n",
    "sections": "section,line,track,km,campaign,rail_design,gauge_mm,gauge_known,"
    "gauge_uncertainty_mm,inclination,inclination_known\n"
    "S1,L,1,0.5,now,60E1,1435.0,measured,0.2,1:40,measured\n"
    "S2,L,1,2.0,now,60E1,1438.0,measured,0.2,1:40,measured\n",
    "route": "line,track,from_km,to_km,kind,radius_m,cant_mm,speed_kmh,gauge_mm\n"
    "L,1,0.0,1.0,straight,,0,160,1435\n"
    "L,1,1.0,3.0,curve,500,100,90,1435\n",
    "services": "fleet,line,share,speed_kmh\nF,L,1.0,160\n",
}


@pytest.fixture
def small(tmp_path):
    """Return an assessment of one wheelset, one straight and one curve, with changes to tables."""

    def make(*, tables=None, wheels=None, rails=None, config=""):
        raw = tmp_path / "raw"
        for part in ("", "wheels", "rails"):
            (raw / part).mkdir(exist_ok=True)
        head = 'survey = 1\nname = "small"\ninvented = true\nlimits = ["eu-in-service"]\n'
        (raw / "survey.toml").write_text(head + config, encoding="utf-8")
        for name, text in {**TABLES, **(tables or {})}.items():
            if text:
                (raw / f"{name}.csv").write_text(text, encoding="utf-8")
        wheel, rail = design("S1002"), design("60E1")
        sides = ("left", "right")
        if wheels is None:
            wheels = {("W1", s, "now"): rough(wheel, at) for at, s in enumerate(sides)}
        if rails is None:
            rails = {
                (name, s, "now"): rough(rail, 10 + at)
                for at, (name, s) in enumerate(product(("S1", "S2"), sides))
            }
        (raw / "wheels" / "all.csv").write_text(long_form(wheels, asset="wheelset"))
        (raw / "rails" / "all.csv").write_text(long_form(rails, asset="section"))
        survey = open_or_build(raw, tmp_path / "store")
        return chain.assess(survey, workers=1)

    return make


@pytest.fixture
def tables():
    return dict(TABLES)
