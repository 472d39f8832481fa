"""Rows of what people at the bench saw, of its clocks and of its temperatures."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import (
    COMMON,
    OWN_NOISE,
    RECORDED,
    Row,
    Wording,
    one,
    several,
)
from particles.distribution.record import Sight

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_LOOK_AROUND = "See whether the readings around it fit the rest."
_AFTER_SEEING: dict[Sight, str] = {
    Sight.FOAM: _LOOK_AROUND,
    Sight.ROOTS: _LOOK_AROUND,
    Sight.ALCOHOL: "Nothing to do: a drop does not change the density that is read.",
    Sight.BUMPED: "Look whether the curve jumps after it.",
    Sight.LEFT_IN: "Particles settle on the shoulders: compare with runs read as the method says.",
    Sight.CLEAR_ABOVE: "The soil may have flocculated. If it did, void the run and repeat it after washing out the "
    "salts.",
    Sight.SPILL: "A run that lost soil or liquid is void: void it, or take the observation back if none was lost.",
    Sight.DOUBTFUL: "Decide whether the reading stands; replace it with a reason, or let this be printed.",
}
"""What to do about each sight. *Common practice*."""
AT_A_READING = " at a reading"
"""Ends the variant of a sight that belongs to one reading."""


def _seen() -> dict[str, Wording]:
    """Each sight alone, and each at a reading."""
    alone = {
        sight.name: Wording(sentence="{what}{note}.", next_step=step, unit="")
        for sight, step in _AFTER_SEEING.items()
    }
    at_a_reading = {
        f"{sight.name}{AT_A_READING}": Wording(
            sentence="{what}, at the {number:time} reading{note}.", next_step=step
        )
        for sight, step in _AFTER_SEEING.items()
    }
    return alone | at_a_reading


_UNPROVEN = "The time {elapsed_s:time} comes from a tablet's clock that nothing proves: {why}."
_COMPARE_TIME = (
    "Compare it with the notes of the bench; correct the time with a reason, or let this be printed."
)
_ALL_EQUAL = "All {number:g} temperatures are {temperature_c:g} °C, over {span_h:.1f} h"
_READ_EACH_TIME = (
    "Check that the thermometer was read each time, not copied; settling and blank depend on it."
)
_UNCHANGED = (
    "findings.temperature:LEAST_UNCHANGED",
    "findings.temperature:UNCHANGED_READINGS",
    "findings.temperature:UNCHANGED_SPAN_S",
)

ROWS: tuple[Row, ...] = (
    Row(
        code="run_void",
        title="the run is void",
        client="run made void",
        severities=(STOP,),
        wordings=one("The run is void: {why}.", "Repeat with a new portion, or report without figures."),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="seen",
        title="something was seen at the cylinder",
        client="observation at the cylinder",
        severities=(NOTE, WARN, STOP),
        wordings=_seen(),
        number="nominal time of the reading it is about",
        unit="s",
        limits=("findings.seen:REACH",),
        source=COMMON,
    ),
    Row(
        code="time_doubtful",
        title="the time of a reading rests on an unproven clock",
        client="time of a reading not proven",
        severities=(WARN,),
        wordings={
            "known": Wording(
                sentence=f"{_UNPROVEN} It was {{number:+.1f}} s off when the laboratory's time was back, which the "
                "interval holds.",
                next_step=_COMPARE_TIME,
            ),
            "unknown": Wording(
                sentence=f"{_UNPROVEN} How far it was off is unknown, so the interval does not hold it.",
                next_step=_COMPARE_TIME,
                unit="",
            ),
        },
        number="how far the clock was off, ahead positive",
        unit="s",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="temperature_jump",
        title="the suspension's temperature jumped",
        client="temperature jumped",
        severities=(WARN,),
        wordings=one(
            "The suspension's temperature moved by {number:+.1f} °C in the step up to {elapsed_s:time}.",
            "Check the thermometer; keep the bench within 2 °C.",
        ),
        number="move since the reading before",
        unit="°C",
        limits=("limits.temperature_jump_c",),
        source=COMMON,
    ),
    Row(
        code="temperature_copied",
        title="temperatures look copied",
        client="temperatures may be copied",
        severities=(WARN,),
        wordings=several(
            _READ_EACH_TIME,
            by_thermometer=f"{_ALL_EQUAL}, while that of the blank moved by {{moved:.1f}} °C.",
            by_level=f"{_ALL_EQUAL}, while the blank moved by {{moved:.1f}} g/L.",
        ),
        number="how many temperatures are equal",
        unit="",
        limits=(*_UNCHANGED, "findings.temperature:BLANK_MOVED_C"),
        source=OWN_NOISE,
    ),
    Row(
        code="temperature_unchanged",
        title="one temperature all day",
        client="one temperature throughout",
        severities=(NOTE,),
        wordings=one(f"{_ALL_EQUAL}.", _READ_EACH_TIME),
        number="how many temperatures are equal",
        unit="",
        limits=_UNCHANGED,
        source=COMMON,
    ),
    Row(
        code="timer_suspected",
        title="the timer may have been started wrongly",
        client="start of the timer may be off",
        severities=(NOTE,),
        wordings=several(
            "Ask when it was started; correct the start only with a reason and a second person, or plunge again.",
            early="A timer started about {start_s:time} too early would explain the step between sieve and "
            "hydrometer.",
            late="A timer started about {start_s:time} too late would explain the step between sieve and "
            "hydrometer.",
        ),
        number="how much too early the timer would have started, late negative",
        unit="s",
        limits=("findings.start:BELIEVABLE_S",),
        source=COMMON,
    ),
)
