"""Cleaning an outline: order, outliers, noise, gaps, smoothing that keeps corners.

===============  ===============================================================================
module           duty (in the order data flows)
===============  ===============================================================================
``noise``        how noisy an outline is, and what noise does to a reading
``ordering``     points into the order of the curve
``outliers``     single points and clusters that do not belong
``crossings``    whether an outline crosses itself
``orientation``  which way round it lies, of what kind, in which unit
``stylus``       taking the ball of a stylus off
``resampling``   even steps of arc; gaps found and bridged
``smoothing``    as much as the noise asks and the shape allows
``notes``        refusals, steps done, traps met
``chain``        all of it in order, with a record of what was done
===============  ===============================================================================
"""
