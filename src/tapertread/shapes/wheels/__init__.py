"""A measured wheel laid on its design, gauged, and searched for traps.

=============  =================================================================================
module         duty (in the order data flows)
=============  =================================================================================
``datum``      parts of a wheel that rails do not wear
``fit``        laying a wheel on its unworn parts
``aligning``   a wheel into its design's axes
``faults``     device faults that a wheel's unworn parts give away
``agreeing``   whether a wheel is of its design, before a device is blamed
``surface``    steps, scatter, layers and made-up ends of a wheel
``traps``      every trap of a wheel by its name
``readings``   plain readings of a wheel
``job``        one wheel to be gauged, and what makes readings unsure
``measures``   the measures of one wheel, as a record
``gauging``    wear measures of a wheel, with uncertainty by cause
``wheelset``   measures of a whole wheelset
``synthetic``  wearing a wheel on purpose
=============  =================================================================================
"""
