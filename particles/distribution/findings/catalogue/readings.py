"""Rows of single readings: slots without a number, times off the schedule, slips of the hand."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import (
    COMMON,
    LATE_RISE,
    NOISE,
    RECORDED,
    Row,
    Wording,
    one,
    several,
)

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_OFF_NEIGHBOURS = (
    "The reading {reading:g} at {elapsed_s:time} lies {number:+.1f} g/L outside what its neighbours leave"
)
_WITH_SHEET = "Compare it with the sheet or the photo; correct it only with a reason"

ROWS: tuple[Row, ...] = (
    Row(
        code="reading_missed",
        title="a reading was missed",
        client="reading missed",
        severities=(NOTE, WARN),
        wordings=one(
            "The reading at {number:time} was missed; nothing stands in for it.",
            "Check that the others still bracket the size limits.",
        ),
        number="elapsed time of the slot",
        unit="s",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="above_scale",
        title="a reading beyond the end of the stem",
        client="reading above the scale",
        severities=(STOP,),
        wordings=several(
            "Run the sample again with less soil.",
            unread="The reading at {elapsed_s:time} is beyond the stem's end at {number:g}; it is no data.",
            read="The reading at {elapsed_s:time} is {reading:g}, beyond the stem's end at {number:g}; it is no data.",
        )
        | {
            variant: Wording(
                sentence=f"The reading at {{elapsed_s:time}}{value} is beyond the stem's end at {{number:g}}, although "
                "the suspension stood lower before: that is not too much soil, and it is no data.",
                next_step=f"Compare with the sheet and the neighbours. If it stands: {LATE_RISE}",
            )
            for variant, value in (("unread_late", ""), ("read_late", ", {reading:g},"))
        },
        number="end of the stem",
        unit="",
        limits=(),
        source="the instrument's own record",
    ),
    Row(
        code="below_scale",
        title="a reading before the start of the stem",
        client="reading below the scale",
        severities=(STOP,),
        wordings=one(
            "The reading at {elapsed_s:time} is {number:g}, below the stem's start at {start:g}.",
            "Check the entry and the instrument.",
        ),
        number="reading",
        unit="",
        limits=(),
        source="the instrument's own record",
    ),
    Row(
        code="off_schedule",
        title="a reading outside the window of its time",
        client="reading off its time",
        severities=(NOTE,),
        wordings=one(
            "The reading due at {nominal_s:time} was taken {off_s:time} too {side}.",
            "Nothing to do: sizes come from the true time.",
        ),
        number="late by, early negative",
        unit="s",
        limits=(
            "edition.windows",
            "edition.later_window_pct",
            "method.slots:SLOT_REACH_S",
            "method.slots:SLOT_REACH_SHARE",
        ),
        source=COMMON,
    ),
    Row(
        code="more_than_portion",
        title="more soil in suspension than in the portion",
        client="more soil than was weighed in",
        severities=(STOP,),
        wordings=one(
            "{number:.1f} g/L are in suspension at {elapsed_s:time}; the whole portion would give {all_g_l:.1f} g/L, "
            "or {most_g_l:.1f} g/L with the scatter of reading.",
            "Check mass, hydrometer scale and cylinder.",
        ),
        number="soil in suspension",
        unit="g/L",
        limits=("limits.portion_excess", "limits.noise_warn_sd"),
        source=NOISE,
    ),
    Row(
        code="beyond_stokes",
        title="a size too coarse for Stokes' law",
        client="size too coarse for settling",
        severities=(WARN,),
        wordings=one(
            "{diameter_um:.0f} µm settles at a Reynolds number of {number:.2f}.",
            "Take sizes this coarse from sieves; Stokes does not hold there.",
        ),
        number="Reynolds number",
        unit="",
        limits=("limits.reynolds",),
        source=COMMON,
    ),
    Row(
        code="typo_suspected",
        title="a reading that does not belong to its curve",
        client="reading does not fit the others",
        severities=(WARN,),
        wordings=several(
            f"{_WITH_SHEET}, or repeat the run.",
            unexplained=f"{_OFF_NEIGHBOURS}.",
            slip=f"{_OFF_NEIGHBOURS}; {{fitting:g}} would fit ({{slip}}).",
        )
        | {
            "off_stem": Wording(
                sentence="The reading {number:g} at {elapsed_s:time} is off the stem; {fitting:g} would fit ({slip}).",
                next_step=f"{_WITH_SHEET}.",
                unit="",
            )
        },
        number="how far it lies outside its neighbours; off the stem, the reading itself",
        unit="g/L",
        limits=("limits.rise_warn_g_l", "limits.rise_warn_sd", "findings.typing:LEAST_POINTS"),
        source=NOISE,
    ),
)
