"""A measured rail laid on its design, gauged, and searched for traps.

============  ==================================================================================
module        duty (in the order data flows)
============  ==================================================================================
``datum``     parts of a rail that wheels do not wear
``fit``       laying a rail on its unworn parts
``holding``   what of a placement is held, and how surely
``agreeing``  whether a rail's unworn parts agree at all, or mirrored
``aligning``  a rail into its design's axes
``ends``      ends straighter than the device could measure
``traps``     what lies on a rail's surface, or was made of it
``faults``    device faults that a rail's unworn parts give away
``drift``     kilometres that drift between campaigns
``head``      levels, rays and areas of a rail head
``area``      head area lost
``face``      gauge-face angle
``job``       one rail to be gauged, and what makes readings unsure
``template``  how far an outline lies from a target, across the head
``gauging``   wear measures of a rail, likewise
============  ==================================================================================
"""
