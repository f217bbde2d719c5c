"""Named streams of chance: the same names and seed give the same numbers, on any machine.

Only raw bits are drawn from a generator, whose stream never changes between releases; turning
them into numbers is done here. Each asset has its own stream, so that adding one moves no other.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.outline import Floats

_BITS = 53
_SHIFT = np.uint64(64 - _BITS)


@dataclass(frozen=True, slots=True)
class Chance:
    """A stream of random numbers.

    Attributes
    ----------
    bits : numpy.random.PCG64
        Source of raw bits.
    """

    bits: np.random.PCG64

    @classmethod
    def named(cls, seed: int, *names: str) -> Chance:
        """Return the stream of a seed and some names."""
        text = "/".join((str(seed), *names)).encode()
        return cls(np.random.PCG64(int.from_bytes(hashlib.sha256(text).digest()[:16], "big")))

    def uniform(self, count: int) -> Floats:
        """Return numbers evenly spread in 0..1, shape (count,)."""
        raw = np.asarray(self.bits.random_raw(count), dtype=np.uint64) >> _SHIFT
        return (raw.astype(np.float64) + 0.5) / 2.0**_BITS

    def normal(self, count: int) -> Floats:
        """Return normal numbers of mean 0 and deviation 1, shape (count,), in pairs by polar form.

        Both of a pair come from one radius and one angle [box-muller-1958].
        """
        half = (count + 1) // 2
        radius = np.sqrt(-2.0 * np.log(self.uniform(half)))
        angle = 2.0 * np.pi * self.uniform(half)
        both = np.stack((radius * np.cos(angle), radius * np.sin(angle)), axis=1)
        return both.ravel()[:count]

    def factor(self, spread: float) -> float:
        """Return one factor around 1 whose logarithm has the deviation `spread`."""
        return float(np.exp(spread * self.normal(1)[0]))

    def order(self, count: int) -> NDArray[np.intp]:
        """Return the numbers 0..count-1 in random order."""
        return np.argsort(self.uniform(count), kind="stable")
