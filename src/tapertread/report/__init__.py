"""Figures and the HTML report.

==============  ================================================================================
module          duty (in the order data flows)
==============  ================================================================================
``inputs``      what the report asks of an assessment
``palette``     colours, marks and type of every picture and page
``svg``         writing SVG: escaped text, paths, theme colours
``scales``      from quantities to places on paper
``plots``       the drawing toolkit: axes, lines, bands, markers, legends, labels that keep clear
``document``    what a report says, without saying how it looks
``values``      quantities, limits and status words as text
``figures``     pure functions from results to pictures
``adapting``    from records of lower rooms to what pictures ask for
``drawing``     one function that draws any result
``cards``       the card of one finding
``grounds``     what a report rests on: every verdict, refusals, certainty, limits, sources
``assessment``  the report of one assessed survey
``html``        one self-contained page from a document
==============  ================================================================================

A picture is an SVG string that stands alone; a page that includes it re-colours it by class.
Nothing is told by colour alone, and no page reaches for the network.
"""

from tapertread.report.adapting import picture_of, stretches_of
from tapertread.report.assessment import assessment_report
from tapertread.report.document import Document
from tapertread.report.drawing import draw
from tapertread.report.html import page, write_html
from tapertread.report.inputs import (
    AssessmentLike,
    Designs,
    Picture,
    Refusal,
    SectionRow,
    Stretch,
    WheelsetRow,
)

__all__ = [
    "AssessmentLike",
    "Designs",
    "Document",
    "Picture",
    "Refusal",
    "SectionRow",
    "Stretch",
    "WheelsetRow",
    "assessment_report",
    "draw",
    "page",
    "picture_of",
    "stretches_of",
    "write_html",
]
