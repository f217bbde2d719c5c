"""One headless Chromium for all browser tests, and the made-up report written to a file."""

import importlib.util
import os
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tapertread.report import assessment_report, write_html

CHROMIUM = Path("/usr/bin/chromium")


def made_up():
    """Return the report tests' made-up assessments, which live in their conftest."""
    path = Path(__file__).parent.parent / "report" / "conftest.py"
    spec = importlib.util.spec_from_file_location("report_made_up", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def browser():
    """Return Chromium; as root, where it can be installed, its absence is a failure."""
    if not CHROMIUM.exists():
        message = "no /usr/bin/chromium; install it with: apt-get install -y chromium"
        if os.geteuid() == 0:
            pytest.fail(message)
        pytest.skip(message)
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def report_file(tmp_path_factory):
    assessment = made_up().small_assessment()
    path = tmp_path_factory.mktemp("report") / "report.html"
    return write_html(assessment_report(assessment), path)


@pytest.fixture
def open_long_report(browser, tmp_path):
    """Return a function that opens a report of 300 verdicts."""
    made = made_up()
    base = made.small_assessment()
    many = tuple(replace(base.findings[1], id=f"L{k:03d}") for k in range(300))
    long = replace(base, findings=many, pictures=())
    path = write_html(assessment_report(long), tmp_path / "long.html")
    context = browser.new_context(viewport={"width": 1280, "height": 900})

    def opened():
        page = context.new_page()
        page.goto(path.as_uri())
        return page

    yield opened
    context.close()


@pytest.fixture
def open_report(browser, report_file):
    """Return a function that opens the report and fails on anything the page complains about."""
    contexts, complaints = [], []

    def opened(*, width=1280, scheme="light", script=True):
        context = browser.new_context(
            viewport={"width": width, "height": 900},
            color_scheme=scheme,
            java_script_enabled=script,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda fault: complaints.append(str(fault)))
        page.on("request", lambda r: complaints.append(r.url) if r.url[:5] != "file:" else None)
        page.goto(report_file.as_uri())
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []
