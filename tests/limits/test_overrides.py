"""A user's own values: the verdict uses them, the published ones stay visible."""

import pytest

from tapertread.limits import Override, Word, judge, limit_set, with_overrides
from tapertread.shapes.measured import Measured
from tapertread.sources import source

EU = limit_set("eu-in-service")
CONDITIONS = {"diameter_mm": 920.0, "vehicle_kind": "coach"}


def override(name, value):
    return Override(
        id=name, value=value, edition="Own rule 7, issue 2", why="agreed with the owner"
    )


def test_the_verdict_uses_the_user_s_value_and_shows_the_published_one():
    own = with_overrides(EU, [override("eu-flange-thickness-min-over-840", 24.0)])
    flange = Measured(value=23.0, unit="mm", uncertainty=0.05)
    verdict = judge(flange, own.for_quantity("flange_thickness_mm", **CONDITIONS))
    assert verdict.word is Word.OUT
    used = verdict.limit
    assert used is not None
    assert (used.value, used.status, used.edition) == (24.0, "user override", "Own rule 7, issue 2")
    assert used.note == "agreed with the owner"
    assert source(used.source).status == "stated by the user"
    assert used.replaces == EU.limit("eu-flange-thickness-min-over-840")
    assert used.standing == "user override of 22 [MEMORY (high)]"
    assert judge(flange, EU.for_quantity("flange_thickness_mm", **CONDITIONS)).word is Word.ACT


@pytest.mark.parametrize(
    ("name", "value", "looser"),
    [
        ("eu-flange-thickness-min-over-840", 21.0, True),
        ("eu-flange-thickness-min-over-840", 22.5, False),
        ("eu-flange-height-max-over-760", 36.5, True),
        ("eu-flange-height-max-over-760", 35.5, False),
    ],
)
def test_a_looser_value_says_that_it_is_looser(name, value, looser):
    own = with_overrides(EU, [override(name, value)]).limit(name)
    assert own.is_looser is looser
    assert ("looser" in own.standing) is looser


def test_share_levels_move_with_their_limit():
    own = with_overrides(EU, [override("eu-flange-thickness-min-over-840", 24.0)])
    watch = own.limit("eu-flange-thickness-min-over-840-watch")
    assert watch.value == pytest.approx(32.5 - 0.7 * 8.5)
    assert watch.toward is not None
    assert watch.toward.value == 24.0


def test_margin_levels_move_with_their_limit():
    own = with_overrides(EU, [override("eu-back-to-back-max-over-840", 1362.0)])
    assert own.limit("eu-back-to-back-max-over-840-watch").value == pytest.approx(1361.5)


def test_a_level_overridden_itself_stays_where_the_user_put_it():
    own = with_overrides(
        EU,
        [
            override("eu-flange-thickness-min-over-840", 24.0),
            override("eu-flange-thickness-min-over-840-act", 26.0),
        ],
    )
    act = own.limit("eu-flange-thickness-min-over-840-act")
    assert act.value == 26.0
    assert act.status == "user override"


def test_everything_else_stays_as_it_was():
    own = with_overrides(EU, [override("eu-tread-hollow-act", 2.5)])
    changed = [a.id for a, b in zip(own, EU, strict=True) if a != b]
    assert changed == ["eu-tread-hollow-act"]
    assert with_overrides(EU, []) == EU


def test_an_overridden_limit_is_written_with_the_one_it_replaces():
    own = with_overrides(EU, [override("eu-tread-hollow-act", 2.5)])
    written = own.limit("eu-tread-hollow-act").to_dict()
    assert written["status"] == "user override"
    replaced = written["replaces"]
    assert isinstance(replaced, dict)
    assert replaced["value"] == 3.0
