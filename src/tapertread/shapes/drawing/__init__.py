"""Drawings and designs: what a wheel or rail looks like when it is new.

==============  ================================================================================
module          duty (in the order data flows)
==============  ================================================================================
``pieces``      exact straight, arc and polynomial pieces by arc length
``carriers``    what pieces lie on: endless lines, whole circles, polynomials
``fillets``     the arc that touches two carriers
``records``     the drawing file, version 1, as records, and its schema
``files``       reading it: TOML into records, in mm
``refusals``    what a drawing can say that cannot be drawn
``finishing``   from a carrier and two ends to an exact piece
``draughting``  from records to pieces: what a drawing leaves open is solved
``symmetry``    the other half of a symmetric rail
``junctions``   steps and kinks where pieces meet
``checks``      whether a drawing can be a wheel or rail at all
``projecting``  the nearest places of a chain of pieces to points, signed
``curve``       the exact curve: evaluate, outline, project points
==============  ================================================================================
"""
