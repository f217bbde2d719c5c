"""What there is: vehicles, wheelsets, lines of track, as frozen records.

================  ==============================================================================
module            duty (in the order data flows)
================  ==============================================================================
``records``       what a survey states, as immutable records; nothing is computed in them
``inclination``   the lean of a rail as railways write it
``friction``      friction states and targets as data, each range with source and status
``kilometres``    the posts of one track and where they jump (long and short kilometres)
``route``         one track along its length: kilometre ↔ distance, curvature, cant, speed
``chaining``      pieces chained into a route; overlaps refused, gaps reported
================  ==============================================================================

Kilometres are those of the posts; distances are metres along the track. Curvature > 0 turns right.
"""

from tapertread.railway.chaining import build_route, build_routes
from tapertread.railway.friction import (
    FrictionRange,
    friction_at,
    friction_state,
    friction_states,
    friction_targets,
)
from tapertread.railway.inclination import inclination_rad, inclination_slope
from tapertread.railway.kilometres import Kilometres, build_kilometres
from tapertread.railway.records import (
    Campaign,
    ContactBand,
    FrictionReading,
    Inspection,
    KilometreJump,
    Lubricator,
    Record,
    RoutePiece,
    Section,
    Service,
    Treatment,
    Vehicle,
    Wheelset,
)
from tapertread.railway.route import Gap, Route

__all__ = [
    "Campaign",
    "ContactBand",
    "FrictionRange",
    "FrictionReading",
    "Gap",
    "Inspection",
    "KilometreJump",
    "Kilometres",
    "Lubricator",
    "Record",
    "Route",
    "RoutePiece",
    "Section",
    "Service",
    "Treatment",
    "Vehicle",
    "Wheelset",
    "build_kilometres",
    "build_route",
    "build_routes",
    "friction_at",
    "friction_state",
    "friction_states",
    "friction_targets",
    "inclination_rad",
    "inclination_slope",
]
