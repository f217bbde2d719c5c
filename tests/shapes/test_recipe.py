"""Recipes: what they say, how they are checked, and that their reference page is fresh."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest

from tapertread.errors import FileRefused, RecipeRefused
from tapertread.shapes.reading.header import LABEL_NAMES
from tapertread.shapes.reading.recipe import Recipe, read_recipe, recipe_from_text
from tapertread.shapes.reading.recipe_fields import LENGTH_UNITS_MM
from tapertread.shapes.reading.recipe_page import pages, recipe_page, recipe_schema

ROOT = Path(__file__).parents[2]
REFRESH = (
    "run: python -c 'from tapertread.shapes.reading.recipe_page import *; "
    'write_pages(Path("docs"))\''
)


def refusal(text: str) -> RecipeRefused:
    with pytest.raises(RecipeRefused) as caught:
        recipe_from_text(text)
    return caught.value


def test_the_shortest_recipe_is_its_version() -> None:
    assert recipe_from_text("recipe = 1") == Recipe()


def test_a_recipe_takes_its_files_name(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_text("\ufeffrecipe = 1\n", encoding="utf-8")
    assert read_recipe(path).name == "bench"
    path.write_text('recipe = 1\nname = "own"\n', encoding="utf-8")
    assert read_recipe(path).name == "own"


@pytest.mark.parametrize("name", sorted(p.name for p in (ROOT / "examples/recipes").glob("*.toml")))
def test_every_example_is_a_recipe(name: str) -> None:
    assert read_recipe(ROOT / "examples/recipes" / name).recipe == 1


def test_the_recipe_of_the_reference_page_can_be_read() -> None:
    text = recipe_page().split("```toml\n")[1].split("```")[0]
    recipe = recipe_from_text(text)
    assert recipe.axes.origin_y_mm == -70.0
    assert recipe.columns.z == 4


def test_length_units_are_exact() -> None:
    """International inch of 1959: 25.4 mm exactly; SI prefixes for the rest (NIST SP 811)."""
    assert LENGTH_UNITS_MM == {"mm": 1.0, "um": 1e-3, "cm": 10.0, "in": 25.4, "m": 1000.0}


@pytest.mark.parametrize("name", sorted(pages()))
def test_generated_pages_are_fresh(name: str) -> None:
    assert (ROOT / "docs" / name).read_text(encoding="utf-8") == pages()[name], REFRESH


def test_every_field_is_explained() -> None:
    parts = recipe_schema()["$defs"].values()
    fields = [field for part in parts for field in part["properties"].values()]
    assert len(fields) > 35
    assert all(field.get("description", "").endswith(".") for field in fields)


def test_the_schema_has_the_fields_that_the_reader_takes() -> None:
    told = set(recipe_schema()["$defs"]["Recipe"]["properties"])
    assert told == {field.name for field in msgspec.structs.fields(Recipe)}
    assert json.loads(pages()["schemas/recipe-1.json"])["$defs"]["Recipe"]["required"] == ["recipe"]


def test_the_page_on_outline_tables_names_all_that_is_recognised() -> None:
    page = (ROOT / "docs/outline-tables.md").read_text(encoding="utf-8")
    words = [*LENGTH_UNITS_MM, *(name for names in LABEL_NAMES.values() for name in names)]
    assert [word for word in words if f"`{word}`" not in page] == []


def test_an_unknown_key_is_named_with_its_line_and_the_nearest_one() -> None:
    found = refusal('recipe = 1\n\n[file]\ndelimeter = ";"\n')
    assert found.code == "unknown-key"
    assert (found.where.line, found.where.record) == (4, "file.delimeter")
    assert "`delimiter`" in found.todo
    assert "decimal" in found.allowed


def test_an_unknown_key_of_a_part_in_braces_is_found_too() -> None:
    found = refusal('recipe = 1\nlayout = "wide"\n[wide]\nz = "3-5"\ngrid = {first = 1, stp = 2}\n')
    assert (found.where.record, found.where.line) == ("wide.grid.stp", 5)


def test_bad_toml_is_placed_by_line_and_column() -> None:
    found = refusal("recipe = 1\n[file\n")
    assert (found.code, found.where.line, found.where.column) == ("bad-toml", 2, "6")
    assert refusal('name = "').code == "bad-toml"


@pytest.mark.parametrize(
    ("text", "record", "allowed"),
    [
        ('kind = "weel"', "kind", "`rail`"),
        ("recipe_version = 1", "recipe_version", "recipe"),
        ('[axes]\nflip_y = "up"', "axes.flip_y", "`left`"),
        ('[units]\ny = "furlong"', "units.y", "`in`"),
        ("[columns]\ny = 0", "columns.y", "docs/recipe.md"),
        ('stylus_radius_mm = "1"', "stylus_radius_mm", "docs/recipe.md"),
        ("repeatability_mm = -0.1", "repeatability_mm", "docs/recipe.md"),
    ],
)
def test_values_that_are_not_allowed(text: str, record: str, allowed: str) -> None:
    found = refusal(f"recipe = 1\n{text}\n")
    assert found.where.record == record
    assert allowed in found.allowed
    assert found.where.line == text.count("\n") + 2


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "recipe-version"),
        ("recipe = 2", "bad-value"),
        ('recipe = 1\n[file]\ndelimiter = ";;"', "bad-delimiter"),
        ('recipe = 1\n[file]\ndelimiter = ","\ndecimal = ","', "bad-delimiter"),
        ('recipe = 1\n[file]\nencoding = "martian"', "unknown-encoding"),
        ('recipe = 1\n[file]\nformat = "csv"\nsheet = "A"', "sheet-without-workbook"),
        ('recipe = 1\nlayout = "wide"', "layout-contradicts"),
        ('recipe = 1\n[wide]\npairs = "1-4"', "layout-contradicts"),
        ('recipe = 1\nlayout = "wide"\n[wide]\nz = "1-4"', "layout-contradicts"),
        ('recipe = 1\nlayout = "wide"\n[wide]\nz = "1-4"\npairs = "1-4"', "layout-contradicts"),
        (
            'recipe = 1\nlayout = "wide"\n[wide]\npairs = "2-5"\n[columns]\ny = 1',
            "layout-contradicts",
        ),
        ('recipe = 1\n[columns]\nside = "S"\n[fixed]\nside = "left"', "said-twice"),
        ('recipe = 1\nfile_name = "{asset}"\n[fixed]\nasset = "W1"', "said-twice"),
        ('recipe = 1\nfile_name = "{asset}-{asset}"', "said-twice"),
        ('recipe = 1\nfile_name = "{wheel}"', "unknown-key"),
        ('recipe = 1\n[side_values]\nleft = ["a"]\nright = ["A"]', "bad-value"),
        ('recipe = 1\n[side_values]\nleft = []\nright = ["A"]', "bad-value"),
        ('recipe = 1\n[file]\nheader = false\n[columns]\ny = "y"\nz = 2', "names-without-header"),
        (
            'recipe = 1\nlayout = "wide"\n[file]\nheader = false\n[wide]\npairs = "p*"',
            "names-without-header",
        ),
        ('recipe = 1\nkind = "wheel"\nframe = "track-plane"', "frame-contradicts"),
    ],
)
def test_recipes_that_contradict_themselves(text: str, code: str) -> None:
    found = refusal(text)
    assert found.code == code
    assert found.todo
    assert found.where.record


def test_a_recipe_that_is_no_text_or_not_there(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    with pytest.raises(FileRefused, match="unreadable-file"):
        read_recipe(path)
    path.write_bytes(b"\xff\xfe\x00recipe")
    with pytest.raises(FileRefused, match="binary-file"):
        read_recipe(path)


def test_a_refusal_names_the_recipes_file(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("recipe = 1\nspeed = 3\n", encoding="utf-8")
    with pytest.raises(RecipeRefused) as caught:
        read_recipe(path)
    assert caught.value.where.file == str(path)
    assert caught.value.where.line == 2
