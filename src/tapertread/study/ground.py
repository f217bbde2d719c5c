"""What all running verdicts share: encounters, limits, common causes, and how sure they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tapertread.contact.records import GaugeRule
from tapertread.limits import LimitSet
from tapertread.study.encounters import Encounter
from tapertread.study.meetings import Crossing
from tapertread.study.states import SectionOnHand, WheelsetOnHand
from tapertread.units import UnitSystem

DIFFERENCE_UNCERTAINTY_MM = 0.07
"""Standard uncertainty that measured outlines leave in a rolling radius difference away from jumps;
the tests hold the invented railway's outlines to it (its noise is up to 0.04 mm)."""

CONICITY_UNCERTAINTY = 0.03
"""Standard uncertainty that measured outlines leave in an equivalent conicity at the amplitudes of
the standard, 2.5 to 4 mm: jumps that noise moves count more than noise itself. The tests hold the
invented railway's outlines to it."""

COMMON_CAUSE_SHARE = 0.5
"""Where more of the fleet than this exceeds a level, the section is the cause and not a wheelset
(common practice, no source)."""

NOMINAL_GAUGE_BAND_MM = 5.0
"""A gauge that is only nominal may lie this far off (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What all running verdicts of one survey share."""

    crossing: Crossing
    sections: Mapping[str, SectionOnHand]
    limits: LimitSet
    system: UnitSystem
    gauge_rule: GaugeRule
    common_cause: frozenset[str] = frozenset()
    """Sections whose rails or gauge, and no single wheelset, are the cause of high conicity."""


def with_common_causes(ground: Ground) -> Ground:
    """Return the ground with the sections that are the common cause of high conicity."""
    causes = frozenset(
        name
        for name, met in ground.crossing.by_section.items()
        if _more_than_half(met, ground.sections[name], ground)
        or _even_new_wheels(ground.sections[name], ground)
    )
    return replace(ground, common_cause=causes)


def _more_than_half(met: Sequence[Encounter], section: SectionOnHand, ground: Ground) -> bool:
    share = high_conicity_share(met, section, ground)
    return share is not None and share > COMMON_CAUSE_SHARE


def _even_new_wheels(section: SectionOnHand, ground: Ground) -> bool:
    """Return whether new wheels of a design that runs here exceed the level too."""
    level = conicity_level(section, ground)
    return level is not None and any(
        one.conicity is not None and one.conicity > level
        for (_design, where), one in ground.crossing.new_wheels.items()
        if where == section.name
    )


def conicity_level(section: SectionOnHand, ground: Ground) -> float | None:
    """Return the lowest upper level of conicity at a section's speed, or ``None``."""
    if section.speed_kmh is None:
        return None
    levels = ground.limits.for_quantity("equivalent_conicity", speed_kmh=section.speed_kmh)
    return min((one.value for one in levels if not one.is_lower), default=None)


def worst_conicities(met: Sequence[Encounter]) -> list[float]:
    """Return each wheelset's conicity on a straight section, the worse way round."""
    worst: dict[str, float] = {}
    for one in met:
        if one.steering is None and one.conicity is not None:
            worst[one.wheelset] = max(worst.get(one.wheelset, 0.0), one.conicity)
    return list(worst.values())


def high_conicity_share(
    met: Sequence[Encounter], section: SectionOnHand, ground: Ground
) -> float | None:
    """Return the share of wheelsets above the level at a straight section, or ``None``."""
    level, values = conicity_level(section, ground), worst_conicities(met)
    if level is None or not values:
        return None
    return sum(value > level for value in values) / len(values)


def gauge_part_mm(section: SectionOnHand) -> float:
    """Return the standard uncertainty of a section's gauge, mm; that of a nominal one is wide."""
    if section.record.gauge_known == "nominal":
        return 0.5 * NOMINAL_GAUGE_BAND_MM
    return section.record.gauge_uncertainty_mm or 0.0


def speed_of(wheelset: WheelsetOnHand, section: SectionOnHand) -> float | None:
    """Return how fast a wheelset runs on a section, km/h: as line and vehicle allow."""
    speeds = [v for v in (section.speed_kmh, wheelset.vehicle.maximum_speed_kmh) if v is not None]
    return min(speeds, default=None)
