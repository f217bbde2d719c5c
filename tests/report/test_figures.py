"""Pictures: pure, small, named, honest about gaps; geometry read back from the markup."""

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box

from tapertread.errors import ContactRefused
from tapertread.limits.verdicts import Verdict, Word
from tapertread.report import figures
from tapertread.report.figures.placing import placed
from tapertread.report.inputs import Designs
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Origin

SVG = "{http://www.w3.org/2000/svg}"
MOST_BYTES = 30_000


class Conicity:
    """A made-up curve with one value missing."""

    amplitude_mm = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    value = np.array([0.12, 0.15, 0.178, 0.21, np.nan])
    harmonic = np.array([0.13, 0.155, 0.18, 0.22, 0.31])


def sweep():
    gauge = np.linspace(1430.0, 1445.0, 16)
    values = np.array([0.02 + 0.2 * np.exp(-(gauge - 1428.0) / 3.0), np.full(16, np.nan)])
    return figures.GaugeSweep(
        gauge_mm=gauge, inclinations=("1:20", "1:40"), conicity=values, from_mm=1433, to_mm=1437
    )


@pytest.fixture(scope="module")
def gallery(table, stretches, make_sections, make_wheelsets, limits):
    """One of each picture."""
    wheel, rail = table.wheelset.left, table.track.left
    needs = figures.CurveNeeds(
        curve_radius_m=-300.0,
        needed_difference_mm=2.3,
        equilibrium_shift_mm=4.6,
        free_shifts_mm=(-6.0, 6.0),
    )
    line = figures.LinePicture(stretches=stretches, sections=make_sections(), limits=limits)
    return {
        "cross": lambda: figures.cross_section(table, 20),
        "difference": lambda: figures.difference_curve(table, needs),
        "conicity": lambda: figures.conicity_curve(Conicity(), standard_amplitude_mm=3.0),
        "places": lambda: figures.contact_places(table),
        "gauge": lambda: figures.gauge_band(sweep(), limit=0.4),
        "wheel": lambda: figures.outline_picture(wheel, wheel),
        "rail": lambda: figures.outline_picture(rail, rail),
        "strips": lambda: figures.line_strips(line),
        "fleet": lambda: figures.fleet_picture(make_wheelsets(60), limits=limits),
    }


NAMES = ["cross", "difference", "conicity", "places", "gauge", "wheel", "rail", "strips", "fleet"]


@pytest.mark.parametrize("name", NAMES)
def test_pictures_are_whole_named_small_and_repeatable(gallery, name):
    markup = gallery[name]()
    root = ET.fromstring(markup)
    assert markup == gallery[name]()
    assert len(markup) < MOST_BYTES
    assert root[0].tag == f"{SVG}title"
    assert root[1].tag == f"{SVG}desc"
    assert len(root[1].text) > 20
    assert "nan" not in re.sub(r"<(title|desc)[^>]*>.*?</", "", markup).lower()


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_written_outside_the_picture(gallery, name):
    root = ET.fromstring(gallery[name]())
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    for element in root.iter(f"{SVG}text"):
        if name != "cross":  # its panels are moved as groups
            assert -1 <= float(element.attrib["x"]) <= width + 1
            assert 0 <= float(element.attrib["y"]) <= height + 1


@pytest.mark.parametrize("index", [0, 8, 16, 25, 32])
def test_wheels_stand_where_the_rails_are(table, index):
    """Judged by shapely: a straight tread lies within g of a circle of radius R over 2 √(2Rg)."""
    for side in placed(table, index):
        spot = Point(side.contact)
        wheel = LineString(
            np.column_stack(side.wheel(side.wheel_outline.y_mm, side.wheel_outline.z_mm))
        )
        rail = LineString(
            np.column_stack(side.rail(side.rail_outline.y_mm, side.rail_outline.z_mm))
        )
        assert wheel.distance(spot) < 0.01
        assert rail.distance(spot) < 0.01
        near = wheel.buffer(0.05).intersection(rail).intersection(spot.buffer(9.0))
        assert near.length == pytest.approx(2.0 * math.sqrt(2.0 * 300.0 * 0.05), abs=0.6)


def test_left_lies_left_and_mirrors_right(table):
    left, right = placed(table, 16)
    assert left.contact[0] < 0 < right.contact[0]
    assert left.contact[0] == pytest.approx(-right.contact[0], abs=1e-9)
    assert left.normal[0] == pytest.approx(-right.normal[0])
    assert right.normal[0] < 0, "the rail pushes toward the track centre"


def test_rails_do_not_move_with_the_axle(table):
    """The rails are held by the contact alone; that they stay put proves the placing."""
    places = [
        [float(side.rail(0.0, 0.0)[0]) for side in placed(table, index)] for index in (4, 16, 28)
    ]
    assert np.ptp(places, axis=0) == pytest.approx([0.0, 0.0], abs=0.1)


def test_normals_are_square_to_the_rail(table):
    """The tangent of a circle of radius R at y leans by asin(y/R): closed form."""
    for side in placed(table, 24):
        lean = math.asin(side.value("rail_y_mm") / 300.0) * side.hand
        tangent = np.array([math.cos(lean), -math.sin(lean)])
        assert abs(tangent @ np.array(side.normal)) < 1e-9


def test_no_picture_where_there_is_no_contact(table):
    lost = replace(table, roll_rad=np.full(table.shift_mm.shape, np.nan))
    with pytest.raises(ContactRefused, match="no stable contact at 0 mm"):
        figures.cross_section(lost, 16)


def test_a_doubtful_shape_shows_its_mark(table):
    rail = replace(table.track.left, origin=Origin(name="rail X", status="doubtful"))
    marked = replace(table, track=replace(table.track, left=rail))
    assert "rail X (doubtful)" in figures.cross_section(marked, 16)
    assert "(doubtful)" in figures.outline_picture(rail)


def test_designs_are_drawn_dashed_behind(table):
    plain = figures.cross_section(table, 16)
    designs = Designs(left_wheel=table.wheelset.left, right_rail=table.track.right)
    both = figures.cross_section(table, 16, designs=designs)
    assert both.count('stroke-dasharray="5 3"') == plain.count('stroke-dasharray="5 3"') + 4


def test_a_second_place_is_marked_only_where_it_is_near(table):
    def with_gap(gap):
        n = table.shift_mm.size
        right = replace(
            table.right,
            second_wheel_y_mm=np.full(n, -40.0),
            second_rail_y_mm=np.full(n, -34.0),
            second_gap_mm=np.full(n, gap),
        )
        return figures.cross_section(replace(table, right=right), 16)

    assert "next place, gap 0.120 mm" in with_gap(0.12)
    assert "next place" not in with_gap(3.0)


def test_panels_say_the_same_as_the_whole(table):
    panels = figures.cross_section_panels(table, 20)
    whole = figures.cross_section(table, 20)
    words = {e.text for p in panels for e in ET.fromstring(p).iter(f"{SVG}text")}
    assert words == {e.text for e in ET.fromstring(whole).iter(f"{SVG}text")}
    assert len({ET.fromstring(p)[0].text for p in panels}) == 4, "each panel has its own name"


def test_difference_curve_tells_need_and_equilibrium(table):
    needs = figures.CurveNeeds(
        curve_radius_m=-280.0, needed_difference_mm=2.46, equilibrium_shift_mm=3.1
    )
    markup = figures.difference_curve(table, needs)
    assert "needed 2.46 mm (280 m left)" in markup
    assert "rolls free at 3.10 mm" in markup
    never = figures.difference_curve(table, replace(needs, equilibrium_shift_mm=None))
    assert "rolls free" not in never
    assert "never has it" in never


def test_difference_curve_marks_stable_and_unstable_lines(table):
    stable = figures.difference_curve(table, rolling_lines_mm=[(0.0, True)])
    other = figures.difference_curve(table, rolling_lines_mm=[(0.0, False)])
    assert stable != other


def test_the_smoothed_curve_is_drawn_beside_the_rigid_one(table):
    rigid = table.rolling_radius_difference_mm
    assert ">elastic<" in figures.difference_curve(table, smoothed_mm=rigid * 0.9)
    assert ">elastic<" not in figures.difference_curve(table)


def test_undefined_conicity_is_said_not_drawn():
    class Undefined(Conicity):
        value = np.full(5, np.nan)
        harmonic = np.full(5, np.nan)

    markup = figures.conicity_curve(Undefined())
    assert "not assessed" in markup
    assert "no value" in markup


def test_gauge_sweep_of_nothing_draws_its_frame():
    empty = replace(sweep(), conicity=np.full((2, 16), np.nan))
    assert "no value" in figures.gauge_band(empty)


def test_us_pictures_speak_us(table, stretches, make_sections):
    cross = figures.cross_section(table, 20, system="us")
    assert "1 in" in cross
    assert " mm" not in cross
    strips = figures.line_strips(
        figures.LinePicture(stretches=stretches, sections=make_sections()), system="us"
    )
    assert "speed, mph" in strips
    assert "distance along the line, mi" in strips
    assert "5.0°" in strips, "350 m is a 5 degree curve by the 100 ft chord"


def test_strips_carry_every_section_and_gravest_names(stretches, make_sections):
    sections = make_sections()
    markup = figures.line_strips(figures.LinePicture(stretches=stretches, sections=sections))
    marks = re.findall(r'd="M[^"]+" transform="scale', markup)
    words = {s.word for s in sections}
    assert len(marks) == len(sections) + len(words), "one mark each, and the legend"
    for section in sections:
        if section.word in (Word.OUT, Word.ACT):
            assert f">{section.section}<" in markup


def test_strips_leave_out_what_no_section_has(stretches, make_sections):
    bare = [replace(s, measures={}) for s in make_sections()]
    markup = figures.line_strips(figures.LinePicture(stretches=stretches, sections=bare))
    assert "wear" not in markup


def test_a_line_without_stretches_is_refused():
    with pytest.raises(ValueError, match="without stretches"):
        figures.line_strips(figures.LinePicture(stretches=(), sections=()))


def test_missing_measures_get_no_marker(make_wheelsets):
    rows = make_wheelsets(6)
    lost = [
        replace(r, measures={**r.measures, "equivalent_conicity": Measured.missing("", "hollow")})
        for r in rows
    ]
    markup = figures.fleet_picture(lost)
    assert "not measured" in markup


def test_a_large_fleet_says_what_it_leaves_out(make_wheelsets):
    markup = figures.fleet_picture(make_wheelsets(100))
    assert "28 calmer wheelsets are not drawn" in markup
    assert markup.count(">W") == 72
    assert "100 wheelsets" in markup


def test_the_gravest_come_first_in_their_fleet(make_wheelsets):
    rows = make_wheelsets(40)
    drawn = re.findall(r">(W\d+)<", figures.fleet_picture(rows))
    gravity = {r.wheelset: (r.fleet, r.word.gravity) for r in rows}
    assert [gravity[n] for n in drawn] == sorted(gravity.values())


def test_a_fleet_without_wheelsets_is_refused():
    with pytest.raises(ValueError, match="without wheelsets"):
        figures.fleet_picture([])


def test_measured_values_stand_at_their_lines(table):
    measures = {
        "flange_height_mm": Measured.of(28.4, "mm", noise=0.05),
        "tread_hollow_mm": Measured.of(1.2, "mm", noise=0.05),
        "rim_thickness_mm": Measured.missing("mm", "not in the outline"),
    }
    markup = figures.outline_picture(table.wheelset.left, measures=measures)
    assert "height 28.40 mm" in markup
    assert "hollow 1.20 mm" in markup
    assert "None" not in markup
    rail = figures.outline_picture(
        table.track.left, measures={"side_wear_mm": Measured.of(3.1, "mm", noise=0.1)}
    )
    assert "3.10 mm" in rail
    assert "14 mm below the top" in rail


def test_the_scale_hatches_the_forbidden_side(limits):
    thin, hollow = limits
    low = figures.verdict_scale(
        Verdict(word=Word.OUT, measured=Measured.of(21.4, "mm", noise=0.1), limit=thin)
    )
    high = figures.verdict_scale(
        Verdict(word=Word.ACT, measured=Measured.of(2.6, "mm", noise=0.1), limit=hollow)
    )

    def bound_and_hatch(markup):
        bound = float(re.search(r'd="M([\d.]+) 20v28"', markup).group(1))
        hatch = [float(x) for x in re.findall(r"M([\d.]+) 44l7-14", markup)]
        return bound, hatch

    bound, hatch = bound_and_hatch(low)
    assert hatch
    assert max(hatch) < bound
    bound, hatch = bound_and_hatch(high)
    assert hatch
    assert min(hatch) > bound


def test_no_scale_without_value_or_limit(limits):
    missing = Measured.missing("mm", "no rim")
    assert figures.verdict_scale(Verdict(word=Word.NOT_ASSESSED, measured=missing)) == ""
    known = Measured.of(2.0, "mm", noise=0.1)
    assert figures.verdict_scale(Verdict(word=Word.SOUND, measured=known)) == ""


def test_equal_wheels_stay_both_seen(make_wheelsets):
    """Left above, right below the middle of the row: no marker of one hides one of the other."""
    same = Measured.of(28.0, "mm", noise=0.05)
    measures = {"flange_height_mm.left": same, "flange_height_mm.right": same}
    (row,) = make_wheelsets(1)
    alone = replace(row, measures=measures)
    markup = figures.fleet_picture([alone], measures=("flange_height_mm",))
    left = re.search(r"M([\d.]+) ([\d.]+)m-4\.2 0", markup)
    right = re.search(r"M([\d.]+) ([\d.]+)m4\.2 0", markup)
    assert left.group(1) == right.group(1)
    assert float(right.group(2)) - float(left.group(2)) > 4.0


def test_strips_hold_the_whole_uncertainty(stretches, make_sections):
    """A bar reaching twice as far as every value must still end inside its strip."""
    (one,) = make_sections(1)
    wide = replace(one, measures={"side_wear_mm.left": Measured.of(10.0, "mm", noise=5.0)})
    picture = figures.LinePicture(stretches=stretches, sections=[wide])
    root = ET.fromstring(figures.line_strips(picture))
    bars = [
        (float(inner.attrib["y"]), float(inner.attrib["height"]), path.attrib["d"])
        for inner in root.iter(f"{SVG}svg")
        for path in inner.iter(f"{SVG}path")
        if "y" in inner.attrib and path.attrib.get("stroke-opacity") == "0.65"
    ]
    (top, height, d) = bars[0]
    low, high = map(float, re.fullmatch(r"M[\d.]+ ([\d.]+)V([\d.]+)", d).groups())
    assert low <= top + height
    assert high >= top


def test_a_negative_need_is_written_below_its_line(table):
    needs = figures.CurveNeeds(curve_radius_m=600.0, needed_difference_mm=-1.1)
    root = ET.fromstring(figures.difference_curve(table, needs))
    words = next(e for e in root.iter(f"{SVG}text") if (e.text or "").startswith("needed −"))
    line = next(
        p for p in root.iter(f"{SVG}path")
        if p.attrib.get("class") == "s-needed" and "h" in p.attrib["d"]
    )  # fmt: skip
    assert float(words.attrib["y"]) > float(re.search(r"M[\d.]+ ([\d.]+)h", line.attrib["d"])[1])


@pytest.mark.parametrize("needed", [-1.1, 1.1, 2.3, -2.3])
def test_words_on_the_difference_curve_do_not_cover_one_another(table, needed):
    needs = figures.CurveNeeds(
        curve_radius_m=600.0, needed_difference_mm=needed, equilibrium_shift_mm=1.5 * needed
    )
    root = ET.fromstring(figures.difference_curve(table, needs))
    found = {}
    for element in root.iter(f"{SVG}text"):
        if (element.text or "").startswith(("needed ", "rolls free")):
            width, x = 0.6 * 11.0 * len(element.text), float(element.attrib["x"])
            left = {"end": x - width, "middle": x - width / 2}.get(
                element.attrib.get("text-anchor"), x
            )
            y = float(element.attrib["y"])
            found[element.text.split()[0]] = box(left, y - 9.0, left + width, y + 2.0)
    assert set(found) == {"needed", "rolls"}
    assert not found["needed"].intersects(found["rolls"])
