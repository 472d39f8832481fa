"""Rows of what a curve and its fractions need: slots, points, points near a limit, and soil in suspension."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, OWN_NOISE, Row, Wording, one

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_TAKE_SAND = "Take sand from a sieve, or run the sample again with this reading."
_REACH = ("method.slots:SLOT_REACH_S", "method.slots:SLOT_REACH_SHARE")


def _far(what: str, next_step: str) -> Wording:
    return Wording(
        sentence=f"The points on either side of the {what} limit of {{limit_um:g}} µm lie at {{coarse_um:.1f}} and "
        "{fine_um:.1f} µm, a gap of a factor {number:.1f}: nothing tells how the curve runs in it.",
        next_step=next_step,
    )


ROWS: tuple[Row, ...] = (
    Row(
        code="slots_absent",
        title="times of the schedule are not in the record",
        client="readings missing",
        severities=(WARN,),
        wordings={
            "": Wording(
                sentence="The record says nothing of {number:g} of the {slots} times of its schedule: {times}.",
                next_step="Enter what was read, or say that it was missed.",
            ),
            "left_out": Wording(
                sentence="The QA officer left out {number:g} of the {slots} times of the schedule: {times}.",
                next_step="Read the reason beside the act; figures rest on the other times.",
            ),
            "also_left_out": Wording(
                sentence="Of the {slots} times of the schedule {number:g} do not count: the QA officer left out "
                "{left_out}, and the record says nothing of {times}.",
                next_step="Read the reason beside the act. Enter what was read, or say that it was missed.",
            ),
        },
        number="how many times are absent",
        unit="",
        limits=("edition.schedule_s", *_REACH),
        source=COMMON,
    ),
    Row(
        code="too_few_points",
        title="too few points for a curve",
        client="too few readings",
        severities=(STOP,),
        wordings=one(
            "Usable readings: {number:g}; a curve by this edition needs {least}.",
            "Run the sample again; the figures shown are no result.",
        ),
        number="usable readings",
        unit="",
        limits=("edition.least_points",),
        source=COMMON,
    ),
    Row(
        code="limit_far_from_points",
        title="a size limit in a wide gap between points",
        client="too few readings near a limit",
        severities=(STOP,),
        wordings={
            "clay": _far("clay", "Run the sample again with the readings between them."),
            "sand": _far(
                "sand", "Take sand from a sieve, or run the sample again with the readings between them."
            ),
        },
        number="gap, as a ratio of diameters",
        unit="",
        limits=("edition.widest_gap",),
        source=COMMON,
    ),
    Row(
        code="outer_slot_missing",
        title="a size limit beyond the points, its slot not read",
        client="first or last reading missing",
        severities=(STOP,),
        wordings={
            "sand": Wording(
                sentence="The sand limit of {limit_um:g} µm lies beyond the first point, and the reading of "
                "{number:time} is not there.",
                next_step=_TAKE_SAND,
            ),
            "clay": Wording(
                sentence="The clay limit of {limit_um:g} µm lies beyond the last point, and the reading of "
                "{number:time} is not there.",
                next_step="Run the sample again to its last reading.",
            ),
        },
        number="nominal time of the slot",
        unit="s",
        limits=("edition.schedule_s", "edition.widest_gap", *_REACH),
        source=COMMON,
    ),
    Row(
        code="nothing_in_suspension",
        title="no reading shows any soil",
        client="no soil seen in suspension",
        severities=(STOP,),
        wordings=one(
            "No reading lies further above its blank than reading noise: the highest by {number:.2f} g/L.",
            "Check that the cylinder held soil and that blank and readings are of two cylinders; weigh an almost pure "
            "sand on its sieve.",
        ),
        number="highest corrected reading",
        unit="g/L",
        limits=("findings.needed:SEEN_SD",),
        source=OWN_NOISE,
    ),
)
