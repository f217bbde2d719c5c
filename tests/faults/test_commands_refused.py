"""What the commands refuse (status 1, by name and place) and what is wrong usage (status 2)."""

import json
import math

import pytest
from click.testing import CliRunner

from tapertread.cli import main
from tapertread.shapes import design

PAIR = ("pair", "--wheel", "S1002", "--rail", "60E1")
STEER = ("steer", *PAIR[1:])


def called(*args: object):
    return CliRunner().invoke(main, [str(one) for one in args])


def refusal(*args: object) -> dict:
    done = called(*args, "--json")
    assert done.exit_code == 1, done.output
    found = json.loads(done.stdout)
    assert list(found) == ["refused"]
    assert all(found["refused"][key] for key in ("code", "found", "allowed", "todo"))
    assert done.stderr.startswith("Refused: ")
    return found["refused"]


@pytest.mark.parametrize(
    ("args", "code"),
    [
        ((*PAIR, "--gauge", 1300), "gauge-too-narrow"),
        ((*PAIR, "--back-to-back", 1400), "gauge-too-narrow"),
        ((*PAIR, "--gauge", 1700), "no-contact"),
        (("pair", "--wheel", "60E1", "--rail", "60E1"), "wrong-kind"),
        (("pair", "--wheel", "S1002", "--rail", "S1002"), "wrong-kind"),
        (("pair", "--wheel", "round", "--rail", "60E1"), "unknown-design"),
        (("pair", "--wheel", "EPS", "--rail", "60E1"), "not-buildable"),
        (("pair", "--wheel", "none.csv", "--rail", "60E1"), "missing-file"),
        (("gauge", "none.csv", "--kind", "wheel"), "missing-file"),
        (("assess", "no-such-survey"), "no-survey"),
        (("import", "no-such-survey", "a.csv"), "no-survey"),
    ],
)
def test_refused_by_name(args: tuple[object, ...], code: str) -> None:
    assert refusal(*args)["code"] == code


@pytest.fixture
def tilted(tmp_path):
    """Write a wheel as a device laid it down: leaning by 10 degrees and 30 mm off across."""
    wheel = design("S1002", step_mm=0.2).moved(dy_mm=30.0, dz_mm=2.0, turn_rad=math.radians(10.0))
    rows = (f"{y:.4f},{z:.4f}" for y, z in zip(wheel.y_mm, wheel.z_mm, strict=True))
    (tmp_path / "tilted.csv").write_text("\n".join(["y_mm,z_mm", *rows, ""]), encoding="utf-8")
    return tmp_path / "tilted.csv"


@pytest.mark.parametrize("command", [PAIR[:1], ("steer", "--curve-radius", 600)])
def test_a_tilted_file_is_told_of_its_design_and_then_taken(tilted, command) -> None:
    asked = (*command, "--wheel", tilted, "--rail", "60E1")
    found = refusal(*asked)
    assert found["code"] == "gauge-too-narrow"
    assert "--wheel-design" in found["todo"]
    assert "--rail-design" not in found["todo"]
    assert called(*asked, "--wheel-design", "S1002", "--json").exit_code == 0


def test_a_refusal_of_drawn_shapes_names_no_option_for_files() -> None:
    assert "-design" not in refusal(*PAIR, "--gauge", 1300)["todo"]


FILES = {
    "empty": b"",
    "binary": bytes(range(256)) * 20,
    "one column": b"z_mm\n1\n2\n3\n4\n5\n",
    "not a number": b"y_mm,z_mm\n0,1\n1,nan\n2,2\n3,3\n4,4\n",
    "three points": b"y_mm,z_mm\n0,0\n1,1\n2,0\n",
    "no unit": b"y,z\n" + b"".join(b"%d,%d\n" % (i, i) for i in range(40)),
    "metres": b"y_m,z_m\n" + b"".join(b"%d,%d\n" % (i, i % 7) for i in range(200)),
}


@pytest.mark.parametrize("content", FILES.values(), ids=FILES)
@pytest.mark.parametrize("kind", ["wheel", "rail"])
def test_a_file_that_holds_no_outline_is_refused_with_its_name(tmp_path, content, kind) -> None:
    file = tmp_path / "given.csv"
    file.write_bytes(content)
    assert refusal("gauge", file, "--kind", kind)["file"] == str(file)
    shapes = (
        ("--wheel", file, "--rail", "60E1")
        if kind == "wheel"
        else ("--wheel", "S1002", "--rail", file)
    )
    assert refusal("pair", *shapes)["file"] == str(file)


def test_a_folder_in_place_of_a_file_is_refused(tmp_path) -> None:
    assert refusal("gauge", tmp_path, "--kind", "wheel")


def test_a_file_in_place_of_the_output_folder_is_refused(tmp_path, small_raw) -> None:
    (tmp_path / "taken").write_text("taken")
    refusal("assess", small_raw, "--out", tmp_path / "taken")
    assert (tmp_path / "taken").read_text() == "taken"


@pytest.fixture
def small_raw(tmp_path):
    from tapertread.demo import write_demo  # noqa: PLC0415

    write_demo(tmp_path / "raw", which="us")
    return tmp_path / "raw"


def test_a_survey_with_an_id_twice_is_refused_and_left_as_it_was(tmp_path, small_raw) -> None:
    table = small_raw / "vehicles.csv"
    text = table.read_text(encoding="utf-8")
    table.write_text(text + text.splitlines()[-1] + "\n", encoding="utf-8")
    before = table.read_bytes()
    found = refusal("assess", small_raw, "--out", tmp_path / "out")
    assert "vehicles.csv" in found["file"]
    assert table.read_bytes() == before


@pytest.mark.parametrize(
    "args",
    [
        (),
        ("pair",),
        (*PAIR, "--gauge", "nan"),
        (*PAIR, "--gauge", "-1435"),
        (*PAIR, "--gauge", "wide"),
        (*PAIR, "--inclination", "40"),
        (*PAIR, "--yaw-mrad", "inf"),
        (*PAIR, "--step", "1e-9"),
        (*PAIR, "--span", "1", "--step", "2"),
        (*PAIR, "--tube-radius", "20"),
        (*PAIR, "--gauge-rule", "roughly"),
        (*PAIR, "--curve-radius", "300"),
        STEER,
        (*STEER, "--curve-radius", "0"),
        (*STEER, "--curve-degrees", "0"),
        (*STEER, "--curve-radius", "nan"),
        (*STEER, "--curve-degrees", "200"),
        (*STEER, "--curve-radius", "300", "--curve-degrees", "5"),
        ("gauge", "a.csv"),
        ("gauge", "a.csv", "--kind", "wheel", "--datum", "guess"),
        ("import", "survey"),
        ("list",),
        ("list", "wheels"),
    ],
    ids=" ".join,
)
def test_wrong_usage_is_status_two(args: tuple[str, ...]) -> None:
    done = called(*args, *(("--json",) if args else ()))
    assert done.exit_code == 2
    assert "Usage:" in done.stderr
    assert done.stdout == ""
