"""tapertread: from measured wheels and rails to verdicts, decisions and pictures.

================  ==============================================================================
module            duty (in the order data flows; a room imports only from rooms above it)
================  ==============================================================================
``errors``        every refusal on one tree: what, where, what is allowed, what to do
``units``         conversion at the edges: metric and US customary
``sources``       the bibliography: every formula, limit and table cites a key
``shapes``        what a wheel or a rail looks like: outlines, designs, reading, cleaning, gauging
``railway``       what there is: wheelsets, vehicles, sections, routes, as frozen records
``limits``        limit sets as data, and how a verdict is reached
``contact``       where and how they touch: rolling contact, conicity, steering by shape
``survey``        what was measured, kept for good: recipes, store, history
``study``         the whole job: assess a survey; reasons are records, one place makes sentences
``demo``          an invented railway whose truth is known
``report``        figures and the HTML report
``cli``           the command line
``data``          numbers, never code
================  ==============================================================================

House rules
-----------
Outlines, per side: ``y`` outward (to the field side of its own side), ``z`` up, mm. Wheel origin is
the tape-line point of the tread, rail origin the top of the upright rail at its axis.

Motion: ``x`` forward, ``y`` right, ``z`` down. Shift is of the axle centre, > 0 toward the right
rail; roll > 0 lowers the right wheel; yaw > 0 is nose right; curve radius > 0 turns right, so that
the left rail is the outer one. Rolling radius difference = right - left. Contact angle > 0 when the
normal pushes the wheelset toward the track centre.

Gauge is the smallest distance between the heads within 0..14 mm below the running plane
(European), or the distance 5/8 in below it (US), as the limit set says.

Profiles and patches are in mm, N, MPa; route, vehicle and motion in SI. Names carry the unit.

`tapertread.draw(result)` returns the picture (SVG text) of any result.

Nothing here is a clearance to run: local rules, the owner's standards and licensed or authorised
persons decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tapertread.report import draw as draw

from tapertread._version import __version__ as __version__


def __getattr__(name: str) -> object:
    """Return `tapertread.report.draw` when it is asked for: its room is heavy to load."""
    if name == "draw":
        from tapertread.report import draw  # noqa: PLC0415  loaded with its first use

        return draw
    raise AttributeError(f"module 'tapertread' has no attribute {name!r}")
