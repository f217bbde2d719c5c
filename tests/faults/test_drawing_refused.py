"""Drawings that must be refused: by name, with the place, what is allowed and what to do."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import pytest

from tapertread.errors import DrawingRefused, FileRefused, RefusedInput
from tapertread.shapes.drawing.curve import drawing_from_text, read_drawing

RAIL = 'drawing = 1\nname = "test"\nkind = "rail"\nunits = "mm"\n'
WHEEL = 'drawing = 1\nname = "test"\nkind = "wheel"\nunits = "mm"\ntape_line_mm = 70.0\n'


def line(*keys: str) -> str:
    return "\n".join(["[[piece]]", 'type = "line"', *keys]) + "\n"


def arc(*keys: str, curve: str = "convex") -> str:
    return "\n".join(["[[piece]]", 'type = "arc"', f'curve = "{curve}"', *keys]) + "\n"


TOP = line('name = "top"', "from = [-30.0, 0.0]", "to = [30.0, 0.0]")
SIDE = line('name = "side"', "to = [35.0, -30.0]")
GOOD = RAIL + TOP + SIDE

FORMAT = {
    "not TOML": ("drawing = 1\nname = \n", "not-toml", 2),
    "empty": ("", "drawing-version", None),
    "no version": (GOOD.replace("drawing = 1\n", ""), "drawing-version", None),
    "other version": (GOOD.replace("drawing = 1", "drawing = 2"), "drawing-version", None),
    "version true": (GOOD.replace("drawing = 1", "drawing = true"), "drawing-version", None),
    "no name": (GOOD.replace('name = "test"\n', "", 1), "not-the-format", None),
    "empty name": (GOOD.replace('"test"', '""', 1), "not-the-format", None),
    "other kind": (GOOD.replace('"rail"', '"tyre"'), "not-the-format", None),
    "no kind": (GOOD.replace('kind = "rail"\n', ""), "not-the-format", None),
    "no unit": (GOOD.replace('units = "mm"\n', ""), "not-the-format", None),
    "other unit": (GOOD.replace('"mm"', '"cm"'), "not-the-format", None),
    "no piece": (RAIL, "not-the-format", None),
    "empty pieces": (RAIL + "piece = []\n", "not-the-format", None),
    "pieces as a number": (RAIL + "piece = 3\n", "not-the-format", None),
    "unknown key at the top": (GOOD.replace("units", "colour = 3\nunits"), "unknown-key", None),
    "unknown key of a piece": (RAIL + TOP + SIDE + "raduis = 3.0\n", "unknown-key", 10),
    "unknown type": (GOOD.replace('"line"', '"spline"', 1), "not-the-format", 5),
    "no type": (GOOD.replace('type = "line"\n', "", 1), "not-the-format", 5),
    "point of three": (GOOD.replace("[-30.0, 0.0]", "[-30.0, 0.0, 1.0]"), "not-the-format", 5),
    "point as text": (GOOD.replace("[-30.0, 0.0]", '"left"'), "not-the-format", 5),
    "radius zero": (RAIL + TOP + arc("radius = 0.0"), "not-the-format", 10),
    "radius negative": (RAIL + TOP + arc("radius = -3.0"), "not-the-format", 10),
    "arc without curve": (
        RAIL + TOP + arc("radius = 3.0").replace('curve = "convex"\n', ""),
        "not-the-format",
        10,
    ),
    "slope as words": (RAIL + line('slope = "one in twenty"'), "not-the-format", 5),
    "one coefficient": (
        RAIL + '[[piece]]\ntype = "polynomial"\ncoefficients = [1.0]\n',
        "not-the-format",
        5,
    ),
    "many coefficients": (
        RAIL + f'[[piece]]\ntype = "polynomial"\ncoefficients = {[0.0] * 17}\n',
        "not-the-format",
        5,
    ),
    "not a number": (GOOD.replace("35.0", "nan"), "number-out-of-range", 10),
    "infinite": (GOOD.replace("35.0", "-inf"), "number-out-of-range", 10),
    "infinite tolerance": (
        GOOD.replace("units", "tolerance_mm = inf\nunits"),
        "number-out-of-range",
        None,
    ),
    "huge": (GOOD.replace("35.0", "1e7"), "number-out-of-range", 10),
    "huge whole number": (GOOD.replace("35.0", "10_000_000"), "number-out-of-range", 10),
    "slope by zero": (RAIL + line('slope = "1:0.0"'), "not-the-format", 5),
    "wheel without tape line": (
        WHEEL.replace("tape_line_mm = 70.0\n", "") + TOP,
        "tape-line",
        None,
    ),
    "wheel with two tape lines": (
        WHEEL.replace("tape_line_mm", "tape_line_in = 2.75\ntape_line_mm") + TOP,
        "tape-line",
        None,
    ),
    "rail with tape line": (
        GOOD.replace("units", "tape_line_mm = 70.0\nunits"),
        "tape-line",
        None,
    ),
    "tape line of zero": (WHEEL.replace("70.0", "0.0") + TOP, "not-the-format", None),
}

SOLVING = {
    "two ends": (RAIL + line("from = [-30.0, 0.0]", "to_y = 3.0", "to_z = 0.0"), "stated-twice"),
    "two beginnings": (
        RAIL + line("from = [-30.0, 0.0]", "from_y = 0.0", "to_y = 3.0"),
        "stated-twice",
    ),
    "slope and angle": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0", "angle_deg = 0.0", "to_y = 3.0"),
        "stated-twice",
    ),
    "slope and tangent": (
        RAIL + TOP + line("slope = 0.0", "tangent = true", "to_y = 33.0"),
        "stated-twice",
    ),
    "centre and tangent": (
        RAIL + TOP + arc("radius = 5.0", "centre = [30.0, -5.0]", "tangent = true"),
        "stated-twice",
    ),
    "fillet and stated end": (
        RAIL + TOP + arc("radius = 5.0") + line("through = [35.0, -30.0]", "angle_deg = -90.0"),
        "stated-twice",
    ),
    "line without direction": (RAIL + line("from = [-30.0, 0.0]"), "too-little-stated"),
    "line without beginning": (RAIL + line("to = [30.0, 0.0]"), "too-little-stated"),
    "line without end": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0"),
        "too-little-stated",
    ),
    "first piece tangent": (
        RAIL + line("from = [-30.0, 0.0]", "tangent = true", "to_y = 30.0"),
        "too-little-stated",
    ),
    "arc without end": (
        RAIL + TOP + arc("radius = 5.0", "tangent = true"),
        "too-little-stated",
    ),
    "polynomial without end": (
        RAIL + '[[piece]]\ntype = "polynomial"\ncoefficients = [0.0, 0.0]\nfrom_y = -30.0\n',
        "end-not-stated",
    ),
    "polynomial without beginning": (
        RAIL + '[[piece]]\ntype = "polynomial"\ncoefficients = [0.0, 0.0]\nto_y = 30.0\n',
        "end-not-stated",
    ),
    "end off its arc": (
        RAIL + TOP + arc("radius = 5.0", "centre = [30.0, -5.0]", "to = [35.2, -5.0]"),
        "end-off-curve",
    ),
    "end off its line": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0", "to = [30.0, 0.02]"),
        "end-off-curve",
    ),
    "arc that never gets there": (
        RAIL + TOP + arc("radius = 5.0", "centre = [30.0, -5.0]", "to_y = 36.0"),
        "end-not-reached",
    ),
    "level line to another height": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0", "to_z = -1.0"),
        "end-not-reached",
    ),
    "angle of a line": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0", "to_angle_deg = 0.0"),
        "end-not-reached",
    ),
    "radius below half the chord": (
        RAIL + TOP + arc("radius = 5.0", "to = [35.0, -30.0]"),
        "radius-too-small",
    ),
    "fillet at the beginning": (RAIL + arc("radius = 5.0") + TOP, "fillet-without-neighbours"),
    "fillet at the end": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0") + arc("radius = 5.0"),
        "fillet-without-neighbours",
    ),
    "two fillets": (
        RAIL
        + line("from = [-30.0, 0.0]", "slope = 0.0")
        + arc("radius = 5.0")
        + arc("radius = 3.0")
        + line("through = [35.0, -30.0]", "angle_deg = -90.0", "to_z = -30.0"),
        "fillet-without-neighbours",
    ),
    "fillet too large": (
        RAIL
        + line("from = [-30.0, 0.0]", "slope = 0.0")
        + arc("radius = 90.0")
        + line("through = [35.0, -30.0]", "angle_deg = -90.0", "to_z = -30.0"),
        "no-fillet",
    ),
    "fillet of the wrong sense": (
        RAIL
        + line("from = [-30.0, 0.0]", "slope = 0.0")
        + arc("radius = 5.0", curve="concave")
        + line("through = [35.0, -30.0]", "angle_deg = -90.0", "to_z = -30.0"),
        "no-fillet",
    ),
    "fillet between parallels": (
        RAIL
        + line("from = [-30.0, 0.0]", "slope = 0.0")
        + arc("radius = 5.0")
        + line("through = [35.0, -30.0]", "slope = 0.0", "to_y = 40.0"),
        "no-fillet",
    ),
    "line of no length": (
        RAIL + line("from = [-30.0, 0.0]", "to = [-30.0, 0.0]"),
        "empty-piece",
    ),
    "line to where it begins": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0", "to_y = -30.0"),
        "empty-piece",
    ),
    "arc of no length": (
        RAIL + TOP + arc("radius = 5.0", "centre = [30.0, -5.0]", "to = [30.0, 0.0]"),
        "empty-piece",
    ),
    "arc between one point": (
        RAIL + TOP + arc("radius = 5.0", "to = [30.0, 0.0]"),
        "empty-piece",
    ),
    "line walked backward": (
        RAIL + line("from = [-30.0, 0.0]", "slope = 0.0", "to_y = -40.0"),
        "runs-backward",
    ),
    "arc walked backward": (
        RAIL + TOP + arc("radius = 5.0", "centre = [30.0, -5.0]", "to = [29.0, -0.1010205144]"),
        "runs-backward",
    ),
    "polynomial walked backward": (
        RAIL
        + '[[piece]]\ntype = "polynomial"\ncoefficients = [0.0, 0.0]\nfrom_y = 30.0\nto_y = 0.0\n',
        "runs-backward",
    ),
    "line to another valley": (
        RAIL + TOP + line("to = [20000.0, -30.0]"),
        "too-far",
    ),
    "arc that goes round a hill": (
        RAIL
        + line("from = [-30.0, 0.0]", "to = [0.0, 0.0]")
        + arc("radius = 3000.0", "tangent = true", "to_angle_deg = -260.0"),
        "too-far",
    ),
    "polynomial that strays between its ends": (
        RAIL
        + '[[piece]]\ntype = "polynomial"\ncoefficients = [0.0, 0.0, -1e6, 0.0, 1e4]\n'
        + "from_y = -10.0\nto_y = 10.0\n",
        "too-far",
    ),
    "step": (RAIL + TOP + line("from = [30.0, -0.02]", "to = [35.0, -30.0]"), "step"),
    "step before a polynomial": (
        RAIL + TOP + '[[piece]]\ntype = "polynomial"\ncoefficients = [0.5, 0.0]\nto_y = 35.0\n',
        "step",
    ),
}

SHAPE = {
    "wheel mirrored": (
        WHEEL + line("from = [-60.0, 0.0]", "to = [40.0, 0.0]") + line("to = [50.0, -28.0]"),
        "mirrored-drawing",
    ),
    "wheel upside down": (
        WHEEL
        + line("from = [-70.0, -20.0]", "to = [-70.0, 9.0]")
        + line("to = [-55.0, 28.0]")
        + line("to = [-30.0, 0.0]")
        + line("to = [60.0, 0.0]"),
        "upside-down",
    ),
    "rail walked from the field side": (
        RAIL + line("from = [30.0, 0.0]", "to = [-30.0, 0.0]"),
        "mirrored-drawing",
    ),
    "rail upside down": (
        RAIL
        + TOP.replace("-30.0, 0.0", "-30.0, 30.0")
        .replace("to =", "to_y = -20.0\n#")
        .replace("to_y", "slope = -3.0\nto_y")
        + line("to = [20.0, 0.0]")
        + line("to = [30.0, 30.0]"),
        "upside-down",
    ),
    "wheel a metre wide": (
        WHEEL + line("from = [-500.0, 0.0]", "to = [500.0, 0.0]"),
        "wrong-unit",
    ),
    "millimetres said to be inches": (GOOD.replace('"mm"', '"in"'), "wrong-unit"),
    "rail a metre high": (
        RAIL + TOP + line("to = [31.0, -1000.0]"),
        "wrong-unit",
    ),
    "rail half a millimetre wide": (
        RAIL + line("from = [-0.25, 0.0]", "to = [0.25, 0.0]"),
        "wrong-unit",
    ),
    "tread above the tape line": (
        WHEEL + line("from = [-40.0, 0.1]", "to = [60.0, 0.1]"),
        "off-origin",
    ),
    "rail beside its axis": (
        RAIL + line("from = [10.0, 0.0]", "to = [70.0, 0.0]"),
        "off-origin",
    ),
    "back elsewhere than the tape line says": (
        WHEEL
        + line("from = [-66.0, 20.0]", "to = [-66.0, -9.0]")
        + line("to = [-40.0, -28.0]")
        + line("to = [-30.0, 0.0]")
        + line("to = [60.0, 0.0]"),
        "tape-line",
    ),
    "self-crossing": (
        RAIL
        + TOP
        + line("to = [35.0, -30.0]")
        + line("to = [40.0, -10.0]")
        + line("to = [20.0, -15.0]"),
        "self-crossing",
    ),
    "wheel given as half": (
        WHEEL.replace("units", "mirror = true\nunits")
        + line("from = [0.0, 0.0]", "to_y = 9.0").replace("to_y", "slope = 0.0\nto_y"),
        "mirrored-wheel",
    ),
    "half that begins off the axis": (
        RAIL + "mirror = true\n" + line("from = [1.0, 0.0]", "to = [30.0, 0.0]"),
        "half-off-axis",
    ),
}


def test_the_good_one_is_accepted() -> None:
    assert [piece.name for piece in drawing_from_text(GOOD).pieces] == ["top", "side"]


def refused(text: str) -> DrawingRefused:
    with pytest.raises(DrawingRefused) as refusal:
        drawing_from_text(text, file="mine.toml")
    found = refusal.value
    assert found.where.file == "mine.toml"
    assert found.found
    assert found.allowed
    assert found.todo
    return found


@pytest.mark.parametrize("case", FORMAT)
def test_files_that_are_not_the_format(case: str) -> None:
    text, code, number = FORMAT[case]
    refusal = refused(text)
    assert refusal.code == code
    assert refusal.where.line == number


@pytest.mark.parametrize("case", SOLVING)
def test_pieces_that_cannot_be_drawn(case: str) -> None:
    text, code = SOLVING[case]
    refusal = refused(text)
    assert refusal.code == code
    assert refusal.where.record is not None
    assert refusal.where.line is not None
    header = text.splitlines()[refusal.where.line - 1]
    assert header == "[[piece]]"


@pytest.mark.parametrize("case", SHAPE)
def test_drawings_that_cannot_be_a_wheel_or_rail(case: str) -> None:
    text, code = SHAPE[case]
    assert refused(text).code == code


def test_a_misspelt_key_names_the_right_one() -> None:
    refusal = refused(RAIL + TOP + arc("raduis = 5.0"))
    assert "'radius'" in refusal.todo
    assert refusal.where.record == "piece 2"


def test_a_key_like_no_other_is_to_be_removed() -> None:
    assert refused(RAIL + TOP + "zzz = 5.0\n").todo == "remove it"


def test_a_wrong_value_names_piece_line_and_key() -> None:
    refusal = refused(RAIL + TOP + arc('radius = "five"'))
    assert (refusal.where.record, refusal.where.line) == ("piece 2", 10)
    assert refusal.where.column == "radius"


def test_a_step_names_both_pieces_and_its_size() -> None:
    refusal = refused(
        RAIL
        + TOP
        + line('name = "flank"', "from = [30.0, -0.02]", "to_z = -9.0", "angle_deg = -80.0")
    )
    assert "0.0200 mm between top and flank at y 30.000" in refusal.found
    assert "allow_step" in refusal.todo
    assert refusal.where.record == "piece 2 (flank)"


def test_a_step_in_a_mirrored_half_names_its_own_piece() -> None:
    half = line('name = "top"', "from = [0.0, 0.0]", "to = [30.0, 0.0]")
    flank = line('name = "flank"', "from = [30.0, -0.5]", "to = [35.0, -30.0]")
    refusal = refused(RAIL + "mirror = true\n" + half + flank)
    assert (refusal.code, refusal.where.record) == ("step", "piece 2 (flank)")


def test_a_bad_anchor_is_refused_at_its_own_place() -> None:
    anchor = '[[anchor]]\nname = "web"\ntype = "line"\nfrom = [8.0, -90.0]\n'
    refusal = refused(GOOD + anchor)
    assert (refusal.code, refusal.where.record) == ("too-little-stated", "anchor 1 (web)")
    assert refusal.where.line == GOOD.count("\n") + 1
    misspelt = refused(GOOD + anchor + "tow = [8.0, -100.0]\n")
    assert (misspelt.code, misspelt.where.record) == ("unknown-key", "anchor 1 (web)")


def mutated(text: str, random: Random) -> str:
    """Return a drawing with one line lost or one number made strange."""
    if random.random() < 0.3:
        lines = text.splitlines()
        del lines[random.randrange(len(lines))]
        return "\n".join(lines)
    number = random.choice(list(re.finditer(r"-?\d+\.\d+(e-?\d+)?", text)))
    other = [f"{factor * float(number[0])!r}" for factor in (-1.0, 2.0, 0.5, 1.01, 30.0)]
    strange = random.choice([*other, "0.0", "nan", "1e308", "-1e-300", "true", '"1:0"', "1e5"])
    return text[: number.start()] + strange + text[number.end() :]


@pytest.mark.parametrize("seed", range(4))
def test_no_mutilated_drawing_gets_past_refusal(seed: int) -> None:
    """Whatever is lost or misprinted, a drawing is read or refused; nothing else is raised."""
    random = Random(seed)
    folder = Path("src/tapertread/data/designs")
    texts = [file.read_text(encoding="utf-8") for file in sorted(folder.glob("*.toml"))]
    outcomes = set()
    for _ in range(60):
        try:
            drawing = drawing_from_text(mutated(random.choice(texts), random))
        except RefusedInput as refusal:
            outcomes.add(refusal.code)
        else:
            outcomes.add("read")
            assert drawing.z_at(0.0)[0] == pytest.approx(0.0, abs=0.05)
    assert {"read", "number-out-of-range", "not-the-format"} < outcomes


@pytest.mark.parametrize("content", [b"\xff\xfe\x00\x01", b"\x89PNG\r\n\x1a\n\xe9"])
def test_binary_files_are_refused(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "picture.toml"
    file.write_bytes(content)
    with pytest.raises(FileRefused) as refusal:
        read_drawing(file)
    assert refusal.value.where.file == str(file)
    assert refusal.value.code == "unreadable-file"


def test_missing_files_and_folders_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "nothing.toml", tmp_path):
        with pytest.raises(FileRefused) as refusal:
            read_drawing(path)
        assert refusal.value.code == "unreadable-file"


def test_each_code_is_documented_and_each_documented_code_is_tested() -> None:
    page = Path("docs/drawing.md").read_text(encoding="utf-8").partition("## What is refused")[2]
    documented = set(re.findall(r"`([a-z]+(?:-[a-z]+)*)`", page)) - {"mirror"}
    tested = {code for _, code, _ in FORMAT.values()} | {"unreadable-file"}
    tested |= {case[1] for case in [*SOLVING.values(), *SHAPE.values()]}
    assert documented == tested
