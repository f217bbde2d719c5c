"""From quantities to places on paper: linear scales and round tick values."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis: what it shows, from where to where, and which values are written.

    Attributes
    ----------
    label : str
        Quantity and unit in words.
    low, high : float
        Ends of the axis, in the unit shown.
    ticks : tuple of float
        Values with a tick and a number.
    digits : int
        Digits after the point of the numbers.
    """

    label: str
    low: float
    high: float
    ticks: tuple[float, ...]
    digits: int = 0

    def tick_text(self, value: float) -> str:
        """Return the number written at a tick, with a true minus sign."""
        return f"{value + 0.0:.{self.digits}f}".replace("-", "−")


def step_for(span: float, *, about: int) -> float:
    """Return the step 1, 2, 2.5 or 5 times a power of ten that gives about so many ticks."""
    rough = span / max(1, about)
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * m for m in (1.0, 2.0, 2.5, 5.0, 10.0) if power * m >= rough * (1.0 - 1e-9))


def digits_for(step: float) -> int:
    """Return the digits after the point that a tick step needs."""
    return next((d for d in range(7) if abs(round(step, d) - step) < 1e-9 * abs(step)), 6)


def axis(
    label: str,
    values: ArrayLike,
    *,
    include: Iterable[float] = (),
    about: int = 5,
    margin: float = 0.04,
    snap: bool = False,
) -> Axis:
    """Return an axis that holds all finite values.

    Parameters
    ----------
    label : str
        Quantity and unit in words.
    values : array_like
        What must be seen; NaN and infinity are left out.
    include : iterable of float
        Further values that must be seen (zero, a limit).
    about : int
        Wanted number of ticks.
    margin : float
        Free part at both ends, as a share of the span.
    snap : bool
        Whether the ends move outward to the next tick.

    Raises
    ------
    ValueError
        If there is no finite value at all.
    """
    everything = np.concatenate((np.ravel(np.asarray(values, dtype=np.float64)), [*include]))
    finite = everything[np.isfinite(everything)]
    if finite.size == 0:
        raise ValueError(f"axis {label!r}: no finite value to show")
    low, high = float(finite.min()), float(finite.max())
    if high - low < 1e-12 * max(1.0, abs(high)):
        half = 0.5 if abs(low) < 1e-9 else 0.1 * abs(low)
        low, high = low - half, high + half
    return fixed_axis(
        label,
        low - margin * (high - low),
        high=high + margin * (high - low),
        about=about,
        snap=snap,
    )


def fixed_axis(label: str, low: float, *, high: float, about: int = 5, snap: bool = False) -> Axis:
    """Return an axis with given ends and round ticks inside them."""
    step = step_for(high - low, about=about)
    if snap:
        low, high = step * math.floor(low / step + 1e-9), step * math.ceil(high / step - 1e-9)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    ticks = tuple(float(k * step) for k in range(first, last + 1))
    return Axis(label=label, low=low, high=high, ticks=ticks, digits=digits_for(step))


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle on paper in user units, y downward."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.y + self.height

    def meets(self, other: Box) -> bool:
        """Whether two boxes overlap."""
        return (
            self.x < other.right
            and other.x < self.right
            and self.y < other.bottom
            and other.y < self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Whether another box lies wholly inside."""
        return (
            self.x <= other.x
            and other.right <= self.right
            and self.y <= other.y
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A box with an axis along and an axis up."""

    box: Box
    along: Axis
    up: Axis

    def x(self, values: ArrayLike) -> Floats:
        """Return places across the paper of values along."""
        share = (np.asarray(values, dtype=np.float64) - self.along.low) / (
            self.along.high - self.along.low
        )
        return np.asarray(self.box.x + share * self.box.width)

    def y(self, values: ArrayLike) -> Floats:
        """Return places down the paper of values up."""
        share = (np.asarray(values, dtype=np.float64) - self.up.low) / (self.up.high - self.up.low)
        return np.asarray(self.box.bottom - share * self.box.height)

    def at(self, along: float, up: float) -> tuple[float, float]:
        """Return the place on paper of one point."""
        return float(self.x(along)), float(self.y(up))


def equal_panel(
    box: Box, *, centre: tuple[float, float], width: float, labels: tuple[str, str] = ("", "")
) -> Panel:
    """Return a panel with the same scale along and up, centred on a place.

    Parameters
    ----------
    box : Box
        Where on paper.
    centre : tuple of float
        Quantity shown in the middle (along, up).
    width : float
        Span along; the span up follows from the box.
    labels : tuple of str
        Labels of both axes.
    """
    height = width * box.height / box.width
    along, up = centre
    return Panel(
        box=box,
        along=fixed_axis(labels[0], along - width / 2, high=along + width / 2),
        up=fixed_axis(labels[1], up - height / 2, high=up + height / 2),
    )
