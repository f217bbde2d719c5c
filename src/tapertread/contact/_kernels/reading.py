"""Every row of both sections at the places that the search found."""

from __future__ import annotations

from tapertread.contact._kernels.compile import kernel
from tapertread.contact._kernels.gaps import HALF, THIRD, Floats, cosine, sine


@kernel
def rows_at(rows, node, found):
    """Fill the rows of a section at a fractional node, by the cubic through four nodes."""
    k = min(max(int(node), 1), rows.shape[1] - 3)
    f = node - k
    for row in range(rows.shape[0]):
        rise = rows[row, k + 1] - rows[row, k]
        bend = rise - rows[row, k] + rows[row, k - 1]
        twist = rows[row, k + 2] - rows[row, k + 1] - rise - bend
        found[row] = rows[row, k] + f * (
            rise + HALF * (f - 1.0) * (bend + THIRD * (f + 1.0) * twist)
        )


@kernel
def read(
    wheel: Floats,
    rail: Floats,
    scene: Floats,
    shifts: Floats,
    rolls: Floats,
    nodes: Floats,
    on_wheel: Floats,
    on_rail: Floats,
) -> None:
    """Fill the rows of wheel and rail, shape (shifts, 2, rows), for first and second places.

    `nodes`, shape (shifts, 4), is what the search returned for this side; where a place is
    negative there is none and nothing is filled. `scene` as in `gaps`.
    """
    for i in range(shifts.shape[0]):
        for part in range(2):
            node = nodes[i, 2 * part]
            if node < 0.0:
                continue
            rows_at(wheel, node, on_wheel[i, part])
            across = scene[0] + scene[2] + node * scene[4]
            down = on_wheel[i, part, 0] - scene[1]
            x = shifts[i] + across * cosine(rolls[i]) + down * sine(rolls[i]) - scene[3]
            rows_at(rail, x / scene[4], on_rail[i, part])
