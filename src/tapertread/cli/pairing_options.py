"""The options that put one wheelset on one track, for every command that needs them."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import click

from tapertread.cli.answers import Answer
from tapertread.cli.shapes_given import GivenShape, Reading, shape_given
from tapertread.cli.value_types import FINITE, INCLINATION, LENGTH_MM
from tapertread.contact import TrackShape, WheelsetShape
from tapertread.contact.records import GaugeRule
from tapertread.errors import ContactRefused, WrongUsage
from tapertread.shapes.outline import Kind
from tapertread.shapes.reading.recipe_fields import LengthUnit
from tapertread.units import UnitSystem

SHAPE = "a design's name, a drawing file or an outline file"
MOST_SHIFTS = 20_001

OPTIONS = (
    click.option(
        "--wheel", required=True, metavar="SHAPE", help=f"Wheel, or the right one: {SHAPE}."
    ),
    click.option("--left-wheel", metavar="SHAPE", help="Left wheel, where it is another."),
    click.option(
        "--rail", required=True, metavar="SHAPE", help=f"Rail, or the right one: {SHAPE}."
    ),
    click.option("--left-rail", metavar="SHAPE", help="Left rail, where it is another."),
    click.option(
        "--inclination",
        type=INCLINATION,
        default="1:40",
        help="Lean of the rails toward the track centre: 1:40, 0.025, 0.",
    ),
    click.option("--gauge", type=LENGTH_MM, default="1435", help="Gauge in mm, or with a unit."),
    click.option(
        "--gauge-rule",
        type=click.Choice(["smallest-0-14-mm", "at-five-eighths-inch"]),
        default="smallest-0-14-mm",
        help="Where gauge is measured: European or US.",
    ),
    click.option(
        "--back-to-back",
        type=LENGTH_MM,
        default="1360",
        help="Distance of the flange backs in mm, or with a unit.",
    ),
    click.option(
        "--wheel-radius",
        type=LENGTH_MM,
        default="460",
        help="Radius at the tape line in mm, or with a unit.",
    ),
    click.option(
        "--left-wheel-radius", type=LENGTH_MM, help="Of the left wheel, where it differs."
    ),
    click.option("--yaw-mrad", type=FINITE, default="0", help="Yaw in mrad, > 0 nose right."),
    click.option(
        "--span",
        type=LENGTH_MM,
        default="10",
        help="Shifts reach so far to both sides, mm; lines and conicity look at least 10 mm.",
    ),
    click.option("--step", type=LENGTH_MM, default="0.25", help="Step of the shifts, mm."),
    click.option("--tube-radius", type=LENGTH_MM, help="Radius of the rail `tube`, mm."),
    click.option(
        "--wheel-design",
        metavar="DESIGN",
        help="What a measured wheel was when new: it is then fitted to its unworn parts.",
    ),
    click.option(
        "--rail-design",
        metavar="DESIGN",
        help="What a measured rail was when new: it is then fitted to its unworn parts.",
    ),
    click.option(
        "--units",
        type=click.Choice(["mm", "in"]),
        help="Unit of y and z in outline files; beats their header.",
    ),
    click.option(
        "--recipe",
        type=click.Path(path_type=Path),
        help="Recipe by which outline files are read.",
    ),
    click.option(
        "--show",
        type=click.Choice(["metric", "us"]),
        default="metric",
        help="Units of the text; JSON is always metric.",
    ),
)


SETUP_KEYS = {
    "wheelset": "wheels (name, label, status) of both sides, radii, back-to-back, tape circles, mm",
    "track": "rails of both sides, gauge_mm, gauge_rule, inclination as a slope",
    "yaw_mrad": "yaw, > 0 nose right",
}
"""Keys of `Setup.to_dict` and what stands there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The options as they were given; lengths in mm."""

    wheel: str
    left_wheel: str | None
    rail: str
    left_rail: str | None
    inclination: float
    gauge: float
    gauge_rule: GaugeRule
    back_to_back: float
    wheel_radius: float
    left_wheel_radius: float | None
    yaw_mrad: float
    span: float
    step: float
    tube_radius: float | None
    wheel_design: str | None
    rail_design: str | None
    units: LengthUnit | None
    recipe: Path | None
    show: UnitSystem


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One wheelset on one track, as asked for.

    Attributes
    ----------
    asked : Asked
    wheels, rails : tuple of GivenShape
        Right, left.
    """

    asked: Asked
    wheels: tuple[GivenShape, GivenShape]
    rails: tuple[GivenShape, GivenShape]

    @property
    def wheelset(self) -> WheelsetShape:
        """The wheelset."""
        asked = self.asked
        return WheelsetShape(
            right=self.wheels[0].outline,
            left=self.wheels[1].outline,
            right_radius_mm=asked.wheel_radius,
            left_radius_mm=asked.left_wheel_radius or asked.wheel_radius,
            back_to_back_mm=asked.back_to_back,
        )

    @property
    def track(self) -> TrackShape:
        """The track."""
        asked = self.asked
        return TrackShape(
            right=self.rails[0].outline,
            left=self.rails[1].outline,
            gauge_mm=asked.gauge,
            inclination=asked.inclination,
            gauge_rule=asked.gauge_rule,
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader must know of the shapes, each once."""
        every = (note for shape in (*self.wheels, *self.rails) for note in shape.notes)
        return tuple(dict.fromkeys(every))

    @property
    def sources(self) -> set[str]:
        """What the shapes name as their sources: keys, or a user's own words."""
        shapes = (*self.wheels, *self.rails)
        return {key for shape in shapes for key in shape.outline.origin.sources}

    def advised(self, refused: ContactRefused) -> ContactRefused:
        """Return a refusal that also says how a tilted or shifted outline file is put right."""
        given = {
            "--wheel-design": any(_by_file_alone(one) for one in self.wheels),
            "--rail-design": any(_by_file_alone(one) for one in self.rails),
        }
        options = " and ".join(
            option
            for option, by_file in given.items()
            if by_file and getattr(self.asked, option[2:].replace("-", "_")) is None
        )
        if not options:
            return refused
        todo = (
            f"{refused.todo}; an outline file may lie tilted or shifted: name with {options} what "
            "was measured, and it is fitted by its unworn parts"
        )
        return ContactRefused(
            refused.code,
            refused.found,
            allowed=refused.allowed,
            todo=todo,
            where=refused.where,
        )

    def to_dict(self) -> dict[str, object]:
        """Return what was put together as plain values for JSON."""
        wheelset, track = self.wheelset, self.track
        return {
            "wheelset": {
                "right": self.wheels[0].to_dict(),
                "left": self.wheels[1].to_dict(),
                "right_radius_mm": wheelset.right_radius_mm,
                "left_radius_mm": wheelset.left_radius_mm,
                "back_to_back_mm": wheelset.back_to_back_mm,
                "tape_circle_distance_mm": wheelset.tape_circle_distance_mm,
            },
            "track": {
                "right": self.rails[0].to_dict(),
                "left": self.rails[1].to_dict(),
                "gauge_mm": track.gauge_mm,
                "gauge_rule": track.gauge_rule,
                "inclination": track.inclination,
            },
            "yaw_mrad": self.asked.yaw_mrad,
        }


def _by_file_alone(shape: GivenShape) -> bool:
    return shape.outline.origin.status == "measured"


def setup_of(asked: Asked) -> Setup:
    """Return the wheelset and the track that were asked for.

    Raises
    ------
    RefusedInput
        If a shape cannot be found, read or trusted.
    WrongUsage
        If the options contradict one another.
    """
    if asked.span / asked.step > (MOST_SHIFTS - 1) / 2:
        raise WrongUsage(f"--span {asked.span:g} in steps of {asked.step:g}: too many shifts")
    if asked.step > asked.span:
        raise WrongUsage("--step is wider than --span")
    wheels = _both("wheel", asked.wheel, asked.left_wheel, asked=asked)
    rails = _both("rail", asked.rail, asked.left_rail, asked=asked)
    return Setup(asked=asked, wheels=wheels, rails=rails)


def _both(
    kind: Kind, right: str, left: str | None, *, asked: Asked
) -> tuple[GivenShape, GivenShape]:
    reading = Reading(
        units=asked.units,
        recipe=asked.recipe,
        design=asked.wheel_design if kind == "wheel" else asked.rail_design,
        tube_radius_mm=asked.tube_radius if kind == "rail" else None,
    )
    first = shape_given(right, kind=kind, reading=reading)
    return first, first if left is None else shape_given(left, kind=kind, reading=reading)


def pairing_options(body: Callable[..., Answer]) -> Callable[..., Answer]:
    """Give a command the options of a pairing; its body gets one `Setup`."""
    names = [field.name for field in fields(Asked)]

    @functools.wraps(body)
    def with_setup(**given: Any) -> Answer:
        asked = Asked(**{name: given.pop(name) for name in names})
        return body(setup_of(asked), **given)

    command: Callable[..., Answer] = with_setup
    for option in reversed(OPTIONS):
        command = option(command)
    return command
