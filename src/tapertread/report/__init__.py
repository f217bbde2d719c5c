"""Figures and the HTML report.

==============  ================================================================================
module          duty (in the order data flows)
==============  ================================================================================
``palette``     colours, marks and type of every picture and page
``svg``         writing SVG: escaped text, paths, theme colours
``scales``      from quantities to places on paper
``plots``       the drawing toolkit: axes, lines, bands, markers, legends, labels that keep clear
``inputs``      what the report asks of an assessment
``figures``     pure functions from results to pictures
``drawing``     one function that draws any result
``document``    what a report says, without saying how it looks
``html``        one self-contained page from a document
``assessment``  the report of one assessed survey
==============  ================================================================================

A picture is an SVG string that stands alone; a page that includes it re-colours it by class.
Nothing is told by colour alone, and no page reaches for the network.
"""
