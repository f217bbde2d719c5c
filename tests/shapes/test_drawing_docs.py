"""The format's page, schema and examples agree with the code that reads drawings."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import pytest
from msgspec import structs

from tapertread.shapes.drawing.curve import drawing_from_text, read_drawing
from tapertread.shapes.drawing.records import PIECE_RECORDS, DrawingRecord, drawing_schema

PAGE = Path("docs/drawing.md")
EXAMPLES = sorted(Path("examples").glob("own-drawing-*.toml"))


def test_the_schema_is_up_to_date() -> None:
    schema = json.loads(Path("docs/schemas/drawing-1.json").read_text(encoding="utf-8"))
    assert schema == json.loads(json.dumps(drawing_schema()))


def test_each_key_has_a_description_in_the_schema() -> None:
    for name, record in drawing_schema()["$defs"].items():
        for key, entry in record["properties"].items():
            assert key == "type" or entry.get("description"), f"{name}.{key}"


def test_each_key_is_on_the_page() -> None:
    page = PAGE.read_text(encoding="utf-8")
    records = [DrawingRecord, *PIECE_RECORDS.values()]
    for record in records:
        for field in structs.fields(record):
            key = field.encode_name
            assert re.search(rf"`(\[\[)?{key}\b", page), key
    for kind in PIECE_RECORDS:
        assert f"**`{kind}`**" in page


def test_the_drawing_on_the_page_can_be_read() -> None:
    blocks = re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.S)
    assert blocks
    for block in blocks:
        drawing = drawing_from_text(block)
        assert max(abs(junction.kink_deg) for junction in drawing.junctions) < 1e-9


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_are_read_and_smooth(path: Path) -> None:
    drawing = read_drawing(path)
    assert drawing.origin.status == "invented"
    allowed = {"relief", "chamfer"}
    for junction in drawing.junctions:
        assert junction.step_mm < 1e-9
        assert junction.after in allowed or abs(junction.kink_deg) < 1e-9


def test_there_is_an_example_of_each_kind() -> None:
    assert {read_drawing(path).kind for path in EXAMPLES} == {"wheel", "rail"}


def test_the_example_wheel_measures_as_it_says() -> None:
    drawing = read_drawing("examples/own-drawing-wheel.toml")
    assert drawing.outline(0.01).z_mm.min() == pytest.approx(-22.0, abs=1e-4)
    assert drawing.tape_line_mm == 60.0


def test_the_example_rail_is_in_inches() -> None:
    drawing = read_drawing("examples/own-drawing-rail.toml")
    assert drawing.curvature_per_mm(drawing.length_mm / 2.0)[0] == pytest.approx(1 / 254.0)
    assert [anchor.name for anchor in drawing.anchors].count("web") == 2


def test_shipped_designs_are_drawing_files_and_nothing_else() -> None:
    for entry in files("tapertread.data").joinpath("designs").iterdir():
        assert drawing_from_text(entry.read_text(encoding="utf-8"), file=entry.name).name
