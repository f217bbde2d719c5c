"""The report in a real browser: widths, themes, keyboard, print, policy."""

import re

import pytest

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_fits_its_window(open_report, width, scheme):
    page = open_report(width=width, scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    red = int(re.search(r"rgb\((\d+)", ground).group(1))
    assert (red > 200) if scheme == "light" else (red < 60)


def test_pictures_follow_the_theme(open_report):
    fill = "getComputedStyle(document.querySelector('figure .f-ink')).fill"
    assert open_report(scheme="light").evaluate(fill) != open_report(scheme="dark").evaluate(fill)


@pytest.mark.parametrize("width", [1280, 390])
def test_words_in_pictures_stay_readable(open_report, width):
    """9 px is about the smallest type that can be read on a screen (common practice, no source)."""
    page = open_report(width=width)
    smallest = page.evaluate(
        """Math.min(...[...document.querySelectorAll('figure text')].map(t =>
        parseFloat(t.getAttribute('font-size')) * t.getScreenCTM().a))"""
    )
    assert smallest >= 8.5


@pytest.mark.parametrize("width", [1280, 390])
def test_contents_stay_in_sight_and_lead_to_their_parts(open_report, width):
    page = open_report(width=width)
    page.get_by_role("link", name="Every verdict").click()
    top = "document.querySelector('#verdicts').getBoundingClientRect().top"
    for _ in range(60):  # the page may glide there
        page.wait_for_timeout(50)
        if abs(page.evaluate(top)) < 120:
            break
    assert abs(page.evaluate(top)) < 120
    box = page.get_by_role("navigation", name="Contents").bounding_box()
    assert box["y"] >= -1


def test_every_picture_is_named_for_readers_aloud(open_report):
    page = open_report()
    drawn = page.locator("figure svg[role=img]")
    assert drawn.count() > 8
    named = page.get_by_role("img", name=re.compile(r"\S"))
    assert named.count() == drawn.count()


def test_the_first_tab_skips_to_the_report(open_report):
    page = open_report()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the report"
    assert page.locator(".skip").bounding_box()["x"] >= 0


def verdict_column(page, column):
    cells = page.locator(f"#verdicts tbody tr:visible > :nth-child({column})")
    return [text.strip() for text in cells.all_inner_texts()]


def test_tables_sort_by_keyboard_and_missing_values_stay_last(open_report):
    page = open_report()
    button = page.locator("#verdicts th button", has_text="measured")
    button.focus()
    page.keyboard.press("Enter")
    head = page.locator("#verdicts th", has_text="measured")
    assert head.get_attribute("aria-sort") == "ascending"
    values = verdict_column(page, 4)
    assert values[:3] == ["0.430 ± 0.100", "2.60 ± 0.14 mm", "21.40 ± 0.22 mm"]
    assert values[3].startswith("—")
    page.keyboard.press("Enter")
    assert head.get_attribute("aria-sort") == "descending"
    values = verdict_column(page, 4)
    assert values[0] == "21.40 ± 0.22 mm"
    assert values[3].startswith("—")


def test_tables_can_be_searched_by_word_and_verdict(open_report):
    page = open_report()
    page.get_by_role("searchbox", name="Find").fill("hollow")
    assert len(verdict_column(page, 1)) == 1
    assert page.locator("#verdicts output").inner_text() == "1 of 4 rows"
    page.get_by_role("searchbox", name="Find").fill("")
    page.get_by_role("combobox", name="Show").select_option("not assessed")
    assert verdict_column(page, 3) == ["not assessed"]


def test_tables_switch_their_units(open_report):
    page = open_report()
    assert "21.40 ± 0.22 mm" in verdict_column(page, 4)
    page.get_by_role("button", name="Tables in US customary units").click()
    assert "0.843 ± 0.009 in" in verdict_column(page, 4)
    page.get_by_role("button", name="Tables in metric units").click()
    assert "21.40 ± 0.22 mm" in verdict_column(page, 4)


def test_the_page_is_whole_without_its_script(open_report):
    page = open_report(script=False)
    assert len(verdict_column(page, 1)) == 4
    assert page.locator("button, input, select").count() == 0


def test_a_slipped_in_script_does_not_run(browser, report_file, tmp_path):
    """The policy, not only the escaping, holds: a script added to the file stays dead."""
    text = report_file.read_text(encoding="utf-8")
    bad = tmp_path / "bad.html"
    bad.write_text(
        text.replace("</main>", "<script>window.ran = 1</script></main>"), encoding="utf-8"
    )
    context = browser.new_context()
    page = context.new_page()
    page.goto(bad.as_uri())
    assert page.evaluate("window.ran") is None
    assert page.get_by_role("button", name="Tables in US customary units").is_visible()
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_report_prints_whole(open_report, paper):
    page = open_report(scheme="dark")
    pdf = page.pdf(format=paper)
    assert pdf.startswith(b"%PDF")
    assert 3 <= len(re.findall(rb"/Type\s*/Page[^s]", pdf)) <= 14
    page.emulate_media(media="print")
    assert page.locator("nav").is_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert int(re.search(r"rgb\((\d+)", ground).group(1)) > 200, "paper is light"


def test_a_long_table_scrolls_in_its_own_box_with_its_head_in_sight(open_long_report):
    page = open_long_report()
    box = page.locator("#verdicts .scroll")
    assert box.bounding_box()["height"] < 720
    box.evaluate("b => b.scrollTo(0, 4000)")
    head, frame = page.locator("#verdicts thead th").first.bounding_box(), box.bounding_box()
    assert frame["y"] - 1 <= head["y"] <= frame["y"] + 3
    page.emulate_media(media="print")
    assert box.bounding_box()["height"] > 5000, "paper shows every row"
