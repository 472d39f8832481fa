"""Rows of how a run falls: rising, gelled, stuck, flocculated, below nothing."""

from __future__ import annotations

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import COMMON, LATE_RISE, NOISE, Row, Wording, one, several

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_RISES = (
    "The corrected reading rises from {before_g_l:.2f} g/L at {before_s:time} "
    "to {after_g_l:.2f} g/L at {after_s:time}"
)
_EQUAL = "{number:g} readings in a row are {reading:g}, over {span_h:.1f} h"
_STUCK_LIMITS = ("STUCK_TOO_MANY", "STUCK_LEAST_G_L", "STUCK_ALL_DAY_S", "STUCK_TREND_SHARE")

ROWS: tuple[Row, ...] = (
    Row(
        code="rising_reading",
        title="a corrected reading rises",
        client="reading rises",
        severities=(NOTE, WARN, STOP),
        wordings=several(
            "Look for a typing slip, another cylinder, temperature, foam or flocculation.",
            within_noise=f"{_RISES}; reading noise can do as much.",
            beyond_noise=f"{_RISES}; a settling suspension cannot.",
        )
        | {
            "late": Wording(
                sentence=f"{_RISES}; so late no density rises at one temperature.",
                next_step=f"Compare with the sheet and the neighbours. If it stands: {LATE_RISE}",
            )
        },
        number="rise since the reading before",
        unit="g/L",
        limits=("limits.rise_warn_g_l", "limits.rise_stop_g_l", "limits.rise_warn_sd", "limits.rise_stop_sd"),
        source=NOISE,
    ),
    Row(
        code="gel_suspected",
        title="late readings stay above an earlier one",
        client="late readings stay too high",
        severities=(WARN,),
        wordings=one(
            "From {elapsed_s:time} on every reading stays at least {number:.1f} g/L above an earlier one.",
            f"Compare with the sheet and the neighbours. If they stand: {LATE_RISE}",
        ),
        number="how far they stay above it",
        unit="g/L",
        limits=("limits.rise_stop_g_l", "limits.noise_stop_sd", "findings.fall:GEL_FROM_S"),
        source=NOISE,
    ),
    Row(
        code="stuck_reading",
        title="equal readings in a row",
        client="equal readings in a row",
        severities=(WARN,),
        wordings=several(
            "Check for a stuck hydrometer or copied values.",
            fall_due=f"{_EQUAL}; a fall of about {{expected_g_l:.1f}} g/L was due.",
            too_many=f"{_EQUAL}; noise alone would have moved some.",
        ),
        number="how many readings are equal",
        unit="",
        limits=(
            "limits.stuck_readings",
            "limits.stuck_span_s",
            "limits.noise_warn_sd",
            *(f"findings.fall:{name}" for name in _STUCK_LIMITS),
        ),
        source=NOISE,
    ),
    Row(
        code="fell_too_fast",
        title="the soil fell faster than dispersed soil",
        client="soil settled too fast",
        severities=(WARN,),
        wordings=one(
            "{number:.0f} % of the soil left between {coarse_um:.1f} and {fine_um:.1f} µm, faster than dispersed soil "
            "settles.",
            "Look for clear water with a sharp front; then the soil flocculated: void the run.",
        ),
        number="what left between two readings",
        unit="%",
        limits=(
            "limits.fast_fall_pct_per_halving",
            "limits.fast_fall_finer_than_um",
            "findings.fall:LEAST_HALVING",
        ),
        source=COMMON,
    ),
    Row(
        code="clear_late",
        title="almost nothing left at the end, feel not noted",
        client="almost clear at the end",
        severities=(NOTE,),
        wordings=one(
            "{early_pct:.0f} % was in suspension at {early_s:time} and {number:.1f} % at {late_s:time}; the feel of "
            "the sample was not noted.",
            "A soil without clay does that. Feel what is left of it and note the texture: if it feels clayey it "
            "flocculated; void the run and wash out the salts.",
        ),
        number="percent finer at the last reading",
        unit="%",
        limits=("findings.fall:CLEAR_SHARE", "findings.fall:MUCH_EARLY_PCT", "findings.fall:LATE_FROM_S"),
        source=COMMON,
    ),
    Row(
        code="flocculation_suspected",
        title="a clayey sample lost its clay",
        client="the clay may have flocculated",
        severities=(WARN,),
        wordings=one(
            "The sample felt clayey, yet only {number:.1f} % is left in suspension at {late_s:time}.",
            "Look for clear water over a fluffy bottom: flocculated; wash out the salts and repeat the run.",
        ),
        number="percent finer at the last reading",
        unit="%",
        limits=("limits.clear_late_pct", "findings.fall:LATE_FROM_S"),
        source=COMMON,
    ),
    Row(
        code="negative_reading",
        title="a corrected reading below zero",
        client="a reading below that of the blank",
        severities=(NOTE, WARN, STOP),
        wordings=one(
            "The corrected reading at {elapsed_s:time} is {number:.2f} g/L, less than nothing; it is shown as it is.",
            "Check the blank; a little below zero means no clay.",
        ),
        number="soil in suspension",
        unit="g/L",
        limits=("limits.negative_stop_g_l", "limits.noise_warn_sd", "limits.noise_stop_sd"),
        source=NOISE,
    ),
)
