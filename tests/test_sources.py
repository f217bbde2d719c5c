"""The bibliography: whatever is cited has an entry, and every entry says how it was come by."""

from pathlib import Path

import pytest

import tapertread
from tapertread import sources
from tapertread.errors import SourceUnknown

PACKAGE = Path(tapertread.__file__).parent


@pytest.fixture(scope="module")
def found():
    return list(sources.citations(PACKAGE))


def test_every_citation_of_the_package_has_its_entry(found):
    assert not sources.missing(found)


def test_docstrings_and_data_do_cite(found):
    files = {citation.file for citation in found}
    assert "limits/judging.py" in files
    assert "data/limits/us-federal.toml" in files


@pytest.mark.parametrize("key", list(sources.all_sources()))
def test_every_entry_says_who_what_and_how_it_was_come_by(key):
    entry = sources.source(key)
    assert entry.status in sources.STATUSES
    assert entry.authors
    assert entry.title
    assert sources.cited(f"[{key}]") == (key,), "the key does not have the form of a citation"
    assert entry.status == "DERIVED" or entry.note or entry.where


def test_an_entry_reads_as_one_line():
    line = str(sources.source("klingel-1883"))
    assert line.startswith("Klingel (1883): ")
    assert line.endswith("[MEMORY]")
    assert "\n" not in line


def test_a_source_without_year_has_no_empty_brackets():
    assert "()" not in str(sources.source("trade-practice"))
    assert "None" not in str(sources.source("trade-practice"))


def test_a_bibliography_holds_each_entry_once_sorted():
    keys = [entry.key for entry in sources.bibliography(["nadal-1908", "cfr-213", "nadal-1908"])]
    assert keys == ["cfr-213", "nadal-1908"]


def test_an_unknown_key_is_refused():
    with pytest.raises(SourceUnknown, match="hearsay-2020"):
        sources.source("hearsay-2020")
    with pytest.raises(SourceUnknown):
        sources.bibliography(["cfr-213", "hearsay-2020"])


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("Wavelength [klingel-1883].", ("klingel-1883",)),
        ("By [en15302-2021, annex C] and [cfr-213].", ("en15302-2021", "cfr-213")),
        ("shape [n, 2], value [mm], range [0, 1], [0-14] mm", ()),
        ("Cant less cant laid [derived].", ("derived",)),
        ("a list `[a, b]`, [x], [1]", ()),
        ("[Klingel-1883] is no key", ()),
    ],
)
def test_the_form_of_a_citation(text, keys):
    assert sources.cited(text) == keys


def written(folder: Path, name: str, text: str) -> None:
    (folder / name).write_text(text, encoding="utf-8")


def test_a_citation_without_entry_is_found_wherever_it_stands(tmp_path):
    written(
        tmp_path, "a.py", '"""Module [ghost-one]."""\n\n\ndef f():\n    """Do [ghost-two]."""\n'
    )
    written(tmp_path, "b.py", 'x = dict(source="ghost-three")\n')
    written(tmp_path, "c.toml", 'sources = ["ghost-four"]\n[[limit]]\nsource = "ghost-five"\n')
    lost = sources.missing(sources.citations(tmp_path))
    assert [(one.file, one.key) for one in lost] == [
        ("a.py", "ghost-one"),
        ("a.py", "ghost-two"),
        ("b.py", "ghost-three"),
        ("c.toml", "ghost-four"),
        ("c.toml", "ghost-five"),
    ]
    assert lost[1].line == 4


def test_what_nothing_cites_is_listed(tmp_path):
    written(tmp_path, "a.py", '"""Only [cfr-213]."""\n')
    lonely = sources.uncited(sources.citations(tmp_path))
    assert "cfr-213" not in lonely
    assert set(lonely) == set(sources.all_sources()) - {"cfr-213"}
