"""Limit sets as data, and how a verdict is reached.

==============  ================================================================================
module          duty (in the order data flows)
==============  ================================================================================
``conditions``  spans and words under which a limit applies
``verdicts``    the six words; limit and verdict as records
``rows``        limit set files: TOML into rows, or refused
``rules``       rows into limits in inside units, with the levels set ahead of them
``choosing``    limits chosen by quantity and conditions; what is missing is named, never guessed
``sets``        limit sets by name, from a user's file, several together
``overrides``   a user's own values, the published ones kept beside them
``judging``     value and uncertainty against limits and levels: the word
``curving``     the speed and cant formulas that the limit sets name
``page``        the generated page that lists every limit with edition, clause and status
==============  ================================================================================
"""

from tapertread.limits.conditions import CONDITIONS, Span
from tapertread.limits.curving import (
    cant_deficiency_mm,
    curve_speed_kmh,
    curve_speed_mph,
    equilibrium_cant_mm,
)
from tapertread.limits.judging import gravest, judge, judge_between
from tapertread.limits.overrides import Override, with_overrides
from tapertread.limits.sets import (
    Choice,
    LimitSet,
    limit_set,
    limit_set_names,
    read_limit_set,
    together,
)
from tapertread.limits.verdicts import Limit, Verdict, Word

__all__ = [
    "CONDITIONS",
    "Choice",
    "Limit",
    "LimitSet",
    "Override",
    "Span",
    "Verdict",
    "Word",
    "cant_deficiency_mm",
    "curve_speed_kmh",
    "curve_speed_mph",
    "equilibrium_cant_mm",
    "gravest",
    "judge",
    "judge_between",
    "limit_set",
    "limit_set_names",
    "read_limit_set",
    "together",
    "with_overrides",
]
