"""Rows of what only the other runs of a batch show, and of the two runs of one sample."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, NOISE, OWN_NOISE, Row, Wording, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_PAIR = "Two portions of this sample differ by {number:.1f} percentage points of {fraction}; the"

ROWS: tuple[Row, ...] = (
    Row(
        code="runs_exchanged",
        title="two runs of a batch may be exchanged",
        client=None,
        severities=(WARN,),
        wordings=several(
            "Compare with sheet, photo, bag and retained soil. Exchange them with a reason, both kept, or say what "
            "shows that they stand right.",
            whole="{label} and {other} fit what is known of their samples better with all their readings exchanged: "
            "one may have been read for the other.",
            one="{label} and {other} fit better with their readings at {elapsed_s:time} exchanged: one may have been "
            "written for the other.",
            all_from="{label} and {other} fit better with their readings from {elapsed_s:time} on exchanged: one may "
            "have been written for the other.",
        ),
        number="odds of the exchange against the readings as they stand",
        unit="",
        limits=("causes.exchanges:LEAST_ODDS",),
        source=OWN_NOISE,
    ),
    Row(
        code="hand_disagrees",
        title="texture by hand and figures disagree",
        client=None,
        severities=(WARN,),
        wordings=one(
            "Felt as {hand}, measured {sand_pct:.0f} % sand, {silt_pct:.0f} % silt, {clay_pct:.0f} % clay: of notes "
            "by hand on such a soil, {number:one_in} would lie so far off.",
            "Have somebody who does not know the figures feel the soil again; if the hand was right, analyse again.",
        ),
        number="share of sound notes that would name a class no likelier",
        unit="%",
        limits=(
            "causes.singles:HAND_LEAST",
            "causes.singles:CLAY_FELT_PCT",
            "causes.singles:CLAY_LOST_PCT",
            "causes.singles:SOME_CLAY_PCT",
            "causes.singles:MUCH_FINE_PCT",
            "causes.singles:LEFT_SHARE",
            "causes.by_hand:SAND_SD_PCT",
            "causes.by_hand:CLAY_SD_PCT",
        ),
        source=COMMON,
    ),
    Row(
        code="portion_not_as_asked",
        title="the portion is not the mass that was asked for",
        client=None,
        severities=(WARN,),
        wordings=one(
            "The portion is recorded with {number:.2f} g; meant was {asked_g:g} g, by the aim stated at the balance "
            "or, where none was, by the advice or the habit of this batch.",
            "Look at the balance's printout, or weigh what is left of the soil; a mass typed wrong moves every "
            "percentage.",
        ),
        number="air-dry mass of the portion",
        unit="g",
        limits=("causes.singles:ASKED_WITHIN_PCT", "causes.singles:ASKED_WITHIN_G"),
        source=COMMON,
    ),
    Row(
        code="readings_copied",
        title="two neighbours have the same readings",
        client=None,
        severities=(WARN,),
        wordings=one(
            "{number:g} readings in a row from {elapsed_s:time} on are the same in {label} and {other}.",
            "Check that both cylinders were read; one column may have been copied.",
        ),
        number="how many readings are the same",
        unit="",
        limits=(
            "neighbours.batch:COPIED_LEAST",
            "neighbours.batch:COPIED_PART_LEAST",
            "neighbours.batch:COPIED_SPAN_G_L",
        ),
        source=COMMON,
    ),
    Row(
        code="late_rise_alone",
        title="one run rises late, its neighbours do not",
        client=None,
        severities=(WARN,),
        wordings=one(
            "{label} rises at {elapsed_s:time} while {number:g} others with the same blank do not: it is this sample, "
            "or what was written for it.",
            "Compare with the sheet first. If it stands: salts, gel or crystals; void the run, wash the soil and "
            "analyse it again with a smaller portion.",
        ),
        number="runs without a late rise",
        unit="",
        limits=("inputs.late_rise:LATE_RISE_FROM_S", "neighbours.late_rise:LEAST_SOUND"),
        source=COMMON,
    ),
    Row(
        code="blank_apart_from_batch",
        title="the blank of one run is not that of its batch",
        client=None,
        severities=(WARN,),
        wordings=one(
            "The blank of {label} lies {number:+.2f} g/L from that of the batch.",
            "Check that one blank cylinder of one dispersant lot served all runs.",
        ),
        number="level of the run's blank less that of the batch",
        unit="g/L",
        limits=("limits.blank_drift_g_l", "neighbours.batch:LEVEL_SD", "neighbours.batch:LEAST_RUNS"),
        source=NOISE,
    ),
    Row(
        code="temperature_apart_from_batch",
        title="one cylinder differs from its neighbours in temperature",
        client=None,
        severities=(WARN,),
        wordings=one(
            "{label} is {number:+.1f} °C from its neighbours at {elapsed_s:time}.",
            "Check the thermometer reading; a cylinder in sun or draught settles faster or slower than the others.",
        ),
        number="temperature less the median of the batch",
        unit="°C",
        limits=("limits.blank_apart_warn_c", "neighbours.batch:LEAST_RUNS"),
        source=COMMON,
    ),
    Row(
        code="slot_rises_in_batch",
        title="the runs of a batch rise at one slot",
        client=None,
        severities=(WARN,),
        wordings=one(
            "{runs} runs rise by {number:.1f} g/L on average into reading {slot} of the schedule.",
            "Look at what they share there: the blank, the hydrometer, the thermometer.",
        ),
        number="mean rise",
        unit="g/L",
        limits=("limits.noise_stop_sd", "neighbours.batch:LEAST_RUNS"),
        source=OWN_NOISE,
    ),
    Row(
        code="duplicate_outside_limit",
        title="the two portions of a sample differ too much",
        client="two portions of this sample differ",
        severities=(WARN, STOP),
        wordings={
            "repeatability": Wording(
                sentence=f"{_PAIR} repeatability limit is {{limit_pct:.1f}}.",
                next_step="Look for the cause (division of the bag, mixing, a reading); say in a note why the first "
                "portion stands, or repeat it.",
            ),
            "action": Wording(
                sentence=f"{_PAIR} action limit is {{limit_pct:.1f}}.",
                next_step="The first portion's figures cannot be reported. Look for the cause (mix-up, division of "
                "the bag, mixing, a reading); repeat the sample with a new portion, or report it without figures. "
                "Look at the other runs too.",
            ),
        },
        number="difference of the fraction that differs most",
        unit="%",
        limits=(
            "inputs.between_run:REPEATABILITY_FACTOR",
            "inputs.between_run:ACTION_PER_MEAN_RANGE",
            "edition.dispersion_sd_pct",
        ),
        source=f"{COMMON}, decision 0007",
    ),
)
