"""``survey.toml``: what it may say, and what it says then."""

from __future__ import annotations

from pathlib import Path

from tapertread.limits import limit_set
from tapertread.limits.overrides import with_overrides
from tapertread.survey import read_config
from tapertread.survey.config import config_from_text

FULL = """
survey = 1
name = "Brae, invented"
invented = true
units = "us"
limits = ["eu-in-service", "own.toml"]
gauge_rule = "at-five-eighths-inch"
note = "INVENTED"

[[override]]
id = "{id}"
value = 27.5
edition = "house rule 4, invented"
why = "an example"
"""


def test_everything_that_can_be_said(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("")
    (tmp_path / "survey.toml").write_text(FULL)
    config = read_config(tmp_path)
    assert config.name == "Brae, invented"
    assert (config.units, config.gauge_rule) == ("us", "at-five-eighths-inch")
    assert config.limits == ("eu-in-service", "own.toml")
    assert config.overrides[0].edition == "house rule 4, invented"


def test_the_least_that_must_be_said(tmp_path: Path) -> None:
    text = "survey = 1\nname = 'x'\nlimits = ['us-federal']\n"
    config = config_from_text(text, folder=tmp_path)
    assert (config.invented, config.units, config.gauge_rule) == (False, "metric", None)
    assert config.overrides == ()


def test_overrides_reach_the_limits(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("")
    known = next(one for one in limit_set("eu-in-service") if one.level == "limit")
    text = FULL.replace("{id}", known.id).replace("27.5", str(known.value))
    config = config_from_text(text, folder=tmp_path)
    limits = with_overrides(limit_set("eu-in-service"), config.overrides)
    (changed,) = [one for one in limits if one.id == known.id]
    assert changed.status == "user override"
    assert changed.replaces == known
