"""Where and how they touch.

=============  =================================================================================
module         duty (in the order data flows)
=============  =================================================================================
``records``    a wheelset's and a track's shapes, and the contact table
``curves``     outlines as smooth curves with angles and curvature
``sections``   curves on one grid, wheel yawed, rail inclined, its gauge point found
``sides``      a wheel hung over a rail, ready for the search
``_kernels``   the compiled search (nobody outside this room looks in)
``places``     what the search found, as places, angles and curvatures
``refusals``   what is refused before the search starts
``rolling``    rolling contact at every shift, roll solved
``plain``      the same search in plain NumPy: oracle and yardstick
``smoothing``  the jumps of rigid contact, softened
``flange``     where the flange bears, how far the contact wanders
``wave``       the rolling motion in the well of its potential
``conicity``   rolling lines and equivalent conicity
``steering``   what a curve asks and the shape can give
``tangent``    the wave on straight track, or how fast a line is left
``pairing``    all of it for one wheelset on one track; gauge and inclination bands
=============  =================================================================================

Signs: see the front page of the package. Lengths mm, angles rad, curve radii m.
"""

from tapertread.contact.conicity import (
    ConicityCurve,
    RollingLine,
    conicity,
    main_line,
    neutral_spans_mm,
    nonlinearity_per_mm,
    refined_conicity,
    rolling_lines,
    standard_amplitude_mm,
)
from tapertread.contact.flange import (
    Bandwidth,
    FlangeContact,
    contact_bandwidth,
    flange_contact,
    rides_rim,
)
from tapertread.contact.pairing import (
    Band,
    Pairing,
    finite_or_none,
    gauge_sweep,
    inclination_sweep,
    pair_up,
)
from tapertread.contact.records import ContactTable, SideContacts, TrackShape, WheelsetShape
from tapertread.contact.rolling import contact_table, contact_tables
from tapertread.contact.sides import flange_spacing_mm
from tapertread.contact.smoothing import smoothed_difference_mm
from tapertread.contact.steering import (
    Steering,
    SteeringReach,
    needed_difference_mm,
    steer_curve,
    steering_reach,
)
from tapertread.contact.tangent import Tangent, run_tangent, wavelength_m

__all__ = [
    "Band",
    "Bandwidth",
    "ConicityCurve",
    "ContactTable",
    "FlangeContact",
    "Pairing",
    "RollingLine",
    "SideContacts",
    "Steering",
    "SteeringReach",
    "Tangent",
    "TrackShape",
    "WheelsetShape",
    "conicity",
    "contact_bandwidth",
    "contact_table",
    "contact_tables",
    "finite_or_none",
    "flange_contact",
    "flange_spacing_mm",
    "gauge_sweep",
    "inclination_sweep",
    "main_line",
    "needed_difference_mm",
    "neutral_spans_mm",
    "nonlinearity_per_mm",
    "pair_up",
    "refined_conicity",
    "rides_rim",
    "rolling_lines",
    "run_tangent",
    "smoothed_difference_mm",
    "standard_amplitude_mm",
    "steer_curve",
    "steering_reach",
    "wavelength_m",
]
