"""The page: escaped, self-contained, under a strict policy, refusing pictures that do more."""

import base64
import hashlib
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from tapertread.limits.verdicts import Word
from tapertread.report import assessment_report, draw, page, write_html
from tapertread.report.document import (
    Column,
    Document,
    Figure,
    Noted,
    Paragraph,
    Quantity,
    Section,
    Table,
)
from tapertread.report.html import picture, sort_key

NASTY = "<script>alert(1)</script><img src=x onerror=alert(2)> & \"quotes\" 'too'"


class Elements(HTMLParser):
    """All elements with their attributes, as a parser of the standard library sees them."""

    def __init__(self):
        super().__init__()
        self.found = []
        self.words = []

    def handle_starttag(self, tag, attrs):
        """Keep an element."""
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data):
        """Keep words."""
        self.words.append(data)


def elements(text):
    parser = Elements()
    parser.feed(text)
    return parser


@pytest.fixture(scope="module")
def text(assessment):
    return page(assessment_report(assessment))


def nasty_document():
    table = Table(
        caption=NASTY,
        columns=(Column(title=NASTY), Column(title="b")),
        rows=((NASTY, Noted(cell=NASTY, note=NASTY)),),
        sortable=True,
        filterable=True,
    )
    part = Section(name="s", title=NASTY, blocks=(Paragraph(text=NASTY), table))
    return Document(title=NASTY, subtitle=NASTY, sections=(part,))


def test_everything_a_user_can_name_is_escaped():
    parsed = elements(page(nasty_document()))
    names = [tag for tag, _ in parsed.found]
    assert names.count("script") == 1
    assert "img" not in names
    assert not [a for _, attrs in parsed.found for a in attrs if a.startswith("on")]
    assert "".join(parsed.words).count(NASTY) >= 6


def test_names_in_findings_and_pictures_are_escaped(make_assessment, table):
    outline = replace(
        table.wheelset.left, origin=replace(table.wheelset.left.origin, name="<b>W7</b>")
    )
    bad = replace(table, wheelset=replace(table.wheelset, left=outline))
    base = make_assessment()
    changed = replace(base, pictures=(replace(base.pictures[0], table=bad),), notes=(NASTY,))
    parsed = elements(page(assessment_report(changed)))
    assert "b" not in [tag for tag, _ in parsed.found]
    assert "<b>W7</b>" in "".join(parsed.words)


def test_the_policy_allows_exactly_this_style_and_this_script(text):
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]+)"', text)
    policy = policy.replace("&#39;", "'")
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    for name in ("style", "script"):
        (inside,) = re.findall(rf"<{name}>(.*?)</{name}>", text, flags=re.S)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{name}-src 'sha256-{digest}'" in policy


def test_nothing_points_outside_the_page(text):
    parsed = elements(text)
    for tag, attrs in parsed.found:
        assert tag not in ("link", "img", "iframe", "object", "embed", "image", "use", "base")
        assert "style" not in attrs, "inline styles would break the policy"
        if "href" in attrs:
            assert attrs["href"].startswith("#")
    assert set(re.findall(r"https?://[^\"'\s<]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "url(" not in text


def test_every_inner_link_has_its_target(text):
    parsed = elements(text)
    targets = [attrs["id"] for _, attrs in parsed.found if "id" in attrs]
    assert len(set(targets)) == len(targets), "an anchor must be unique"
    links = [attrs["href"][1:] for tag, attrs in parsed.found if tag == "a"]
    assert len(links) > 10
    assert set(links) <= set(targets)


def test_headings_never_skip_a_level(text):
    levels = [int(tag[1]) for tag, _ in elements(text).found if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_tables_have_captions_and_heads(text):
    names = [tag for tag, _ in elements(text).found]
    assert names.count("table") == names.count("caption") == names.count("thead")
    scopes = {attrs.get("scope") for tag, attrs in elements(text).found if tag == "th"}
    assert scopes == {"col", "row"}


def test_every_verdict_mark_stands_beside_its_word(text):
    found = re.findall(r'<span class="verdict w-(\w+)"><svg.*?</svg>([^<]+)</span>', text)
    assert len(found) > 10
    words = {word.value for word in Word}
    assert {word for _, word in found} <= words
    assert text.count('class="mark"') == len(found)


def test_a_missing_value_shows_its_reason(text):
    assert 'class="reason">the outline ends before the rim</span>' in text
    assert ">nan" not in text.lower()
    assert ">None" not in text


def test_both_systems_of_units_stand_in_the_page(text):
    assert '<span class="in-metric">at least 22.00 mm</span>' in text
    assert '<span class="in-us">at least 0.866 in</span>' in text
    assert 'data-units="metric"' in text


def test_the_same_document_makes_the_same_page(assessment):
    assert page(assessment_report(assessment)) == page(assessment_report(assessment))


def test_writing_replaces_the_file_whole(tmp_path, assessment):
    path = tmp_path / "report.html"
    path.write_text("old", encoding="utf-8")
    assert write_html(assessment_report(assessment), path) == path
    assert path.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]


HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1">'


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>",
        '<image href="x.png"/>',
        "<foreignObject/>",
        "<style>*{}</style>",
        '<path onload="alert(1)"/>',
        '<path style="fill:red"/>',
        '<a href="#x"><path/></a>',
        '<g xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="#x"/>',
        '<p xmlns="http://www.w3.org/1999/xhtml"/>',
        "<path>",
    ],
)
def test_pictures_that_could_do_more_than_draw_are_refused(inside):
    with pytest.raises(ValueError, match="picture"):
        picture(f"{HEAD}{inside}</svg>")
    document = Document(
        title="t",
        opening=(Figure(panels=(f"{HEAD}{inside}</svg>",), caption="c"),),
    )
    with pytest.raises(ValueError, match="picture"):
        page(document)


def test_one_picture_drawn_twice_names_two_things(table):
    svg = draw(table)
    text = page(Document(title="t", opening=(Figure(panels=(svg, svg), caption="c"),)))
    names = [attrs["id"] for _, attrs in elements(text).found if "id" in attrs]
    labels = [a["aria-labelledby"] for _, a in elements(text).found if "aria-labelledby" in a]
    assert len(set(names)) == len(names)
    assert len(set(labels)) == 2
    assert {name for label in labels for name in label.split()} <= set(names)


def test_plain_pictures_pass():
    assert picture(f'{HEAD}<path d="M0 0h1"/></svg>').startswith("<svg")


@pytest.mark.parametrize(
    ("cell", "key"),
    [
        ("text", "text"),
        (Word.OUT, "0"),
        (Word.SOUND, "5"),
        (Quantity(value=2.5, unit="mm"), "2.5"),
        (Quantity(value=None, unit="mm"), ""),
        (Noted(cell="a", note="b"), "a"),
    ],
)
def test_tables_sort_by_value_not_by_its_text(cell, key):
    assert sort_key(cell) == key
