"""Rows of the curve: its smoothing, and how sieve and hydrometer meet."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import NOISE, RECORDED, Row, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_AT_SIEVE = (
    "At {opening_um:g} µm the sieve passes {passing_pct:.1f} % and the hydrometer shows {hydrometer_pct:.1f} %, "
    "a step of {step_pct:.1f} points"
)
_BEYOND_SIEVE = (
    "The {opening_um:g} µm sieve passes {passing_pct:.1f} % and the hydrometer shows {hydrometer_pct:.1f} % already at "
    "{first_um:.1f} µm, a step of {step_pct:.1f} points"
)
_WITHIN_NOISE = "; reading and settling can do as much on this portion."

ROWS: tuple[Row, ...] = (
    Row(
        code="curve_adjusted",
        title="smoothing moved the curve",
        client="curve smoothed",
        severities=(NOTE, WARN, STOP),
        wordings=one(
            "Keeping the curve from rising towards finer sizes moved a point by {number:.2f} percentage points.",
            "Look at the rising readings; repeat the run if they stand.",
        ),
        number="largest move of a point",
        unit="%",
        limits=(
            "limits.adjustment_warn_pct",
            "limits.adjustment_stop_pct",
            "limits.noise_warn_sd",
            "limits.noise_stop_sd",
        ),
        source=NOISE,
    ),
    Row(
        code="by_time_only",
        title="a method by time, not by size",
        client="figures by time and not by size",
        severities=(STOP,),
        wordings=one(
            "{title}: results carry their own names and are no fractions at size limits.",
            "Do not print them as sand, silt and clay; use an edition that reaches 2 µm.",
        ),
        number="",
        unit="",
        limits=("edition.certifiable",),
        source=RECORDED,
    ),
    Row(
        code="curve_held",
        title="the hydrometer shows more than passed the sieve",
        client="hydrometer above the finest sieve",
        severities=(NOTE,),
        wordings=one(
            "At {diameter_um:.1f} µm the hydrometer shows {shown_pct:.1f} % and the finest sieve above it passes "
            "{passed_pct:.1f} %, {number:.1f} points less; points of the curve above that: {count}. They are shown as "
            "they are; figures are read at what passed.",
            "Nothing to do here; whether sieve and hydrometer agree is told by its own finding.",
        ),
        number="how far the highest lies above what passed",
        unit="%",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="join_not_compared",
        title="sieve and hydrometer not compared",
        client="sieve and hydrometer not compared",
        severities=(NOTE,),
        wordings=one(
            "No hydrometer point beyond the {number:g} µm sieve, so the join was not compared.",
            "Nothing to do; an earlier reading would allow it.",
        ),
        number="opening of the sand sieve",
        unit="µm",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="join_accepted",
        title="sieve and hydrometer agree",
        client="sieve and hydrometer agree",
        severities=(NOTE,),
        wordings=several(
            "Nothing to do.",
            at_sieve=f"{_AT_SIEVE}.",
            at_sieve_within_noise=f"{_AT_SIEVE}{_WITHIN_NOISE}",
            beyond_sieve_within_noise=f"{_BEYOND_SIEVE}{_WITHIN_NOISE}",
        ),
        number="passing the sieve less hydrometer",
        unit="%",
        limits=("limits.join_warn_pct", "limits.noise_warn_sd"),
        source=NOISE,
    ),
    Row(
        code="join_apart",
        title="sieve and hydrometer do not agree",
        client="sieve and hydrometer do not agree",
        severities=(WARN, STOP),
        wordings=several(
            "Check washing, mass, particle density and that both belong to one portion.",
            at_sieve=f"{_AT_SIEVE}.",
            beyond_sieve=f"{_BEYOND_SIEVE}.",
        ),
        number="passing the sieve less hydrometer",
        unit="%",
        limits=(
            "limits.join_warn_pct",
            "limits.join_stop_pct",
            "limits.noise_warn_sd",
            "limits.noise_stop_sd",
        ),
        source=NOISE,
    ),
)
