"""Which time of the schedule a reading belongs to."""

from __future__ import annotations

from particles.distribution.method.edition import MethodEdition

SLOT_REACH_S = 15.0
"""A reading nearer than this to a time of the schedule is the one of that time. *Common practice*. [s]"""
SLOT_REACH_SHARE = 0.2
"""Late in the day one nearer than this share of the time is. *Common practice*. [-]"""


def slot_of(method: MethodEdition, elapsed_s: float) -> float | None:
    """Nominal time that a reading is of; None for a reading of its own, further from all of them. [s]"""
    nominal_s = min(method.schedule_s, key=lambda t: abs(t - elapsed_s))
    apart_s = abs(round(elapsed_s - nominal_s, 6))
    return nominal_s if apart_s < max(SLOT_REACH_S, SLOT_REACH_SHARE * nominal_s) else None
