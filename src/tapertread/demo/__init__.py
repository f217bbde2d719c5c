"""An invented railway whose truth is known: plan, wear, devices, survey folder.

==================  ===========================================================================
module              duty (in the order data flows)
==================  ===========================================================================
``plan``            what the data files state: line, fleets, habits, maintenance, faults
``chance``          named streams of chance, the same on every machine
``line``            route pieces between curves, curvature at a post
``planing``         the wear law: metal planed away by the shape of the other body
``wheels``          how a wheel wears; how deep a lathe must cut
``rails``           how a rail wears, is ground and grows lips
``measures``        true wear measures by plain geometry
``truth``           records of what is true, and of what was planted
``ageing_wheels``   from habit and distance to worn wheelsets in two campaigns
``ageing_rails``    from tonnes, curvature and grade to worn sections in two campaigns
``faults``          what a device can get wrong, one function a trap
``devices``         from a true outline to the points in a file
``contact``         roughly where wheels polish a rail
``readings``        what devices read beside outlines, with noise of its own
``registers``       what people wrote into the tables
``outlines``        outline files, one for a device and a campaign
``tables``          records to CSV in metric or US customary units
``writing``         the survey folder
==================  ===========================================================================

House rules: no real name of a place, operator, vehicle, product or person; the wear law is of our
own and shared with no other room; the same plan and seed give the same bytes.
"""

from tapertread.demo.truth import (
    DemoTruth,
    Planted,
    RailTruth,
    SectionTruth,
    WheelsetTruth,
    WheelTruth,
)
from tapertread.demo.writing import demo_truth, write_demo

__all__ = [
    "DemoTruth",
    "Planted",
    "RailTruth",
    "SectionTruth",
    "WheelTruth",
    "WheelsetTruth",
    "demo_truth",
    "write_demo",
]
