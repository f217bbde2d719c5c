"""The result depends on the survey alone: not on workers, not on how its files are laid out."""

import json
import random
import shutil

import pytest

from tapertread.study.assess import assess
from tapertread.study.crew import POOL_FROM, Crew
from tapertread.survey import open_or_build, open_survey

OF_THE_RUN = ("timings_s", "basis")


def plain(assessment):
    values = assessment.to_dict()
    for name in OF_THE_RUN:
        values.pop(name)
    return json.dumps(values, sort_keys=True)


def test_one_worker_and_two_give_the_same_to_the_last_bit(us_demo):
    assert plain(assess(open_survey(us_demo.store), workers=1)) == plain(us_demo.assessment)


@pytest.fixture(scope="module")
def shuffled(us_demo, tmp_path_factory):
    """Return the same survey with rows of tables and outlines in another order."""
    raw = tmp_path_factory.mktemp("shuffled") / "raw"
    shutil.copytree(us_demo.raw, raw)
    chance = random.Random(7)
    for path in [*raw.glob("*.csv"), *(raw / "wheels").glob("*.csv")]:
        lines = path.read_text(encoding="utf-8").splitlines()
        marks = [line for line in lines if line.startswith("#")]
        head, *rows = [line for line in lines if not line.startswith("#")]
        if path.parent.name == "wheels":
            outlines = {}
            for row in rows:
                outlines.setdefault(tuple(row.split(",")[:3]), []).append(row)
            names = list(outlines)
            chance.shuffle(names)
            rows = [row for name in names for row in outlines[name]]
        elif path.name not in ("route.csv", "kilometres.csv", "campaigns.csv"):
            chance.shuffle(rows)
        path.write_text("\n".join([*marks, head, *rows]) + "\n", encoding="utf-8")
    return raw


def test_the_order_of_files_and_rows_does_not_matter(us_demo, shuffled):
    again = assess(open_or_build(shuffled, shuffled.parent / "store"), workers=2)
    assert plain(again) == plain(us_demo.assessment)


def test_few_pieces_of_work_start_no_processes():
    with Crew(4) as crew:
        assert list(crew.map(abs, [-1, 2, -3])) == [1, 2, 3]
        assert crew._pool is None


def test_much_work_comes_back_in_its_order():
    pieces = list(range(-POOL_FROM, POOL_FROM))
    with Crew(2) as crew:
        assert list(crew.map(abs, pieces)) == [abs(one) for one in pieces]
        assert list(crew.map(abs, [-5], chunk=1)) == [5]
    assert crew._pool is None


def test_a_fault_in_the_work_is_not_swallowed():
    with Crew(2) as crew, pytest.raises(TypeError):
        list(crew.map(abs, ["a"] * POOL_FROM))
