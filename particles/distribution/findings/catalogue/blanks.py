"""Rows of the correction of the readings, the blank above all."""

from __future__ import annotations

from types import MappingProxyType

from particles.distribution.answer import Severity
from particles.distribution.findings.catalogue.row import (
    COMMON,
    NOISE,
    OWN_NOISE,
    RECORDED,
    Row,
    Wording,
    one,
    several,
)

NOTE, WARN, STOP = Severity.NOTE, Severity.WARN, Severity.STOP

_RANGE = one(
    "The blank reads {number:.1f} g/L; {low:g} to {high:g} g/L is expected.",
    "Check that it was the blank cylinder, with dispersant, and the sign of the value.",
)
_APART = "Suspension and blank are {difference_c:.1f} °C apart at {elapsed_s:time}"
_ONE_TEMPERATURE = (
    "The difference is corrected; let both cylinders reach one temperature before the next run."
)
_LEVEL = (
    "The blank stands at {level_g_l:.1f} g/L at 20 °C; {dispersant_g_l:g} g/L of dispersant gives {expected_g_l:.1f}, "
    "water alone {water_g_l:.1f}."
)
_MOVED = (
    "Look for evaporation, contamination, a dirty stem, copied temperatures or a blank of another lot. Readings before "
    "it speak little for those after; the interval holds that the blank alone moved."
)
_DRIFT = "One blank lies {number:+.2f} g/L off the blank's own level at its temperature"

ROWS: tuple[Row, ...] = (
    Row(
        code="no_blank",
        title="no blank and no correction",
        client="no blank was read",
        severities=(STOP,),
        wordings=one(
            "No blank was read and no correction made: clay comes out about 12 percentage points too high on 40 g of "
            "soil with 5 g/L of dispersant.",
            "Read a blank of the same dispersant beside the run.",
        ),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="blank_not_measured",
        title="corrected without a measured blank",
        client="corrected without a measured blank",
        severities=(STOP,),
        wordings=one(
            "The readings were corrected by {rule}, not by a blank measured beside them.",
            "Figures are for information; read a blank for a certified result.",
        ),
        number="",
        unit="",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="meniscus_twice",
        title="the meniscus typed as a correction of the readings too",
        client="meniscus may be corrected twice",
        severities=(WARN,),
        wordings=one(
            "A correction of the readings is just the {number:g} graduations of the meniscus, which the depth already "
            "holds.",
            "Reading and blank are both read at the upper edge, so it cancels; take it out of the correction, unless "
            "the figure was measured in clear water without dispersant.",
        ),
        number="height of the meniscus",
        unit="graduations",
        limits=("findings.blank:SAME_GRADUATIONS",),
        source=COMMON,
    ),
    Row(
        code="correction_missing",
        title="a reading without its composite correction",
        client="reading without its correction",
        severities=(STOP,),
        wordings=one(
            "The reading at {number:time} has no composite correction; it was not used.",
            "Enter the correction of that temperature.",
        ),
        number="elapsed time of the reading",
        unit="s",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="blank_missing",
        title="a reading without its blank",
        client="reading without its blank",
        severities=(STOP,),
        wordings=one(
            "No blank was read for the reading at {number:time}; it was not used.",
            "Read the blank beside it, or repeat the run; nothing stands in for a blank.",
        ),
        number="elapsed time of the reading",
        unit="s",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="blank_interpolated",
        title="a blank taken from those before and after",
        client="blank taken from its neighbours",
        severities=(WARN,),
        wordings=one(
            "No blank was read for the reading at {elapsed_s:time}; {number:.2f} g/L was taken from the same blank "
            "before and after, brought to its temperature.",
            "Print it with the result; that blank counts with an uncertainty of {sd_g_l:g} g/L. Read it every time.",
        ),
        number="blank taken",
        unit="g/L",
        limits=("edition.interpolate_missing_blank", "inputs.blank_filling:INTERPOLATED_SD_G_L"),
        source=COMMON,
    ),
    Row(
        code="blank_unusual",
        title="a blank out of the usual range",
        client="blank out of the usual range",
        severities=(WARN,),
        wordings=_RANGE,
        number="blank",
        unit="g/L",
        limits=("limits.blank_usual_g_l",),
        source=COMMON,
    ),
    Row(
        code="blank_impossible",
        title="a blank out of the possible range",
        client="blank out of the possible range",
        severities=(STOP,),
        wordings=_RANGE,
        number="blank",
        unit="g/L",
        limits=("limits.blank_possible_g_l",),
        source=COMMON,
    ),
    Row(
        code="blank_temperature_missing",
        title="a blank without a temperature",
        client="temperature of blank missing",
        severities=(WARN,),
        wordings=one(
            "The blank at {number:time} has no temperature; the suspension's was taken.",
            "Record the blank's temperature; 1 °C apart is about 0.3 g/L.",
        ),
        number="elapsed time of the reading",
        unit="s",
        limits=(),
        source=RECORDED,
    ),
    Row(
        code="blank_temperature_apart",
        title="blank and suspension differ in temperature",
        client="temperature of blank differs",
        severities=(WARN,),
        wordings=one(f"{_APART}.", _ONE_TEMPERATURE),
        number="suspension less blank",
        unit="°C",
        limits=("limits.blank_apart_warn_c",),
        source=COMMON,
    ),
    Row(
        code="blank_temperature_far_apart",
        title="blank and suspension differ widely in temperature",
        client="temperature of blank differs widely",
        severities=(WARN,),
        wordings=one(
            f"{_APART}; the correction itself is then uncertain by about 0.2 g/L.", _ONE_TEMPERATURE
        ),
        number="suspension less blank",
        unit="°C",
        limits=("limits.blank_apart_wide_c",),
        source=COMMON,
    ),
    Row(
        code="blank_far_in_time",
        title="a blank read too far in time from its reading",
        client="blank read too early or late",
        severities=(WARN,),
        wordings=one(
            "The blank was read {gap_min:.0f} min before or after the reading at {elapsed_s:time}; the method allows "
            "{allowed_min:.0f} min.",
            "Check that the temperature had not moved by more than 0.5 °C.",
        ),
        number="time between blank and reading",
        unit="s",
        limits=("edition.blank_window_s",),
        source=COMMON,
    ),
    Row(
        code="blank_temperature_moved",
        title="the temperature moved since the blank was read",
        client="temperature moved since the blank",
        severities=(WARN,),
        wordings=one(
            "No blank was read beside the reading at {elapsed_s:time}, and the nearest in temperature was "
            "{difference_c:.1f} °C warmer or colder.",
            "The difference is corrected and the interval is wider for it; read the blank once more when the room "
            "warms or cools.",
        ),
        number="suspension less the nearest blank in temperature",
        unit="°C",
        limits=("limits.blank_moved_warn_c", "edition.blank_window_s"),
        source=COMMON,
    ),
    Row(
        code="blank_not_read",
        title="the blank was not read again in hours",
        client="blank not read again in hours",
        severities=(WARN,),
        wordings=one(
            "No blank was read within {number:.1f} h of the reading at {elapsed_s:time}; the nearest serves it, and "
            "its interval holds what a blank may wander in that time.",
            "Read the blank at the last reading too; it can still be read now when the cylinder stands.",
        ),
        number="time between the reading and the nearest blank",
        unit="h",
        limits=("findings.blank_physics:FORGOTTEN_S", "findings.blank_physics:FORGOTTEN_SHARE"),
        source=COMMON,
    ),
    Row(
        code="blank_without_dispersant",
        title="the blank looks like water without dispersant",
        client="blank without dispersant suspected",
        severities=(STOP,),
        wordings=one(
            _LEVEL, "Ask whether the blank was made with dispersant; the batch waits for the answer."
        ),
        number="level of the blank at 20 °C",
        unit="g/L",
        limits=("findings.blank_level:WATER_SHARE", "findings.blank_level:LEAST_DISPERSANT_G_L"),
        source=COMMON,
    ),
    Row(
        code="blank_level",
        title="the blank is not what its dispersant gives",
        client="level of the blank unusual",
        severities=(WARN,),
        wordings=one(
            _LEVEL,
            "Check the dispersant's concentration and lot, its volume, and the zero of the hydrometer.",
        ),
        number="level of the blank at 20 °C less the expected one",
        unit="g/L",
        limits=("limits.blank_level_apart_g_l", "findings.blank_level:LEAST_DISPERSANT_G_L"),
        source=COMMON,
    ),
    Row(
        code="blank_drift",
        title="one blank off the blank's own level",
        client="one blank off its level",
        severities=(NOTE, WARN),
        wordings=several(
            "Look for a typing slip, another cylinder, evaporation, a dirty stem or a blank that was not read.",
            within_noise=f"{_DRIFT}; reading noise can do as much.",
            beyond_noise=f"{_DRIFT}.",
        ),
        number="blank less its own level",
        unit="g/L",
        limits=("limits.blank_drift_g_l", "limits.noise_warn_sd", "inputs.blank_series:DRIFT_WIDER"),
        source=NOISE,
    ),
    Row(
        code="blank_trend",
        title="the blank moved during the run",
        client="blank moved during the run",
        severities=(WARN,),
        wordings=one(
            "The blank moved by {number:+.2f} g/L from the first to the second half of the run; its temperature does "
            "not explain that.",
            "Look for evaporation, contamination, copied temperatures or a blank of another lot.",
        ),
        number="move from the first to the second half",
        unit="g/L",
        limits=(
            "limits.blank_drift_g_l",
            "limits.noise_warn_sd",
            "inputs.blank_series:TREND_LEAST",
            "inputs.blank_series:TREND_WIDER",
        ),
        source=NOISE,
    ),
    Row(
        code="blank_against_temperature",
        title="the blank does not follow its temperature",
        client="blank against its temperature",
        severities=(WARN,),
        wordings=one(
            "The blank followed its temperature {number:.1f} times as much as water does; {expected_g_l:.1f} g/L was "
            "expected over the run.",
            "Check sign and thermometer of the blank, and that it was read each time.",
        ),
        number="observed per expected move; 1 is right",
        unit="",
        limits=("inputs.blank_series:SLOPE_LIMIT_SD", "inputs.blank_series:SLOPE_KNOWN_TO"),
        source=OWN_NOISE,
    ),
    Row(
        code="blank_copied",
        title="one blank figure although its temperature moved",
        client="blanks may have been copied",
        severities=(WARN,),
        wordings=one(
            "All {count} blanks read {reading:g} although their temperature should have moved them by {number:.1f} "
            "g/L.",
            "Check that the blank was read each time, not copied.",
        ),
        number="move that their temperature asks for",
        unit="g/L",
        limits=("limits.blank_copied_moved_g_l", "inputs.blank_series:TREND_LEAST"),
        source=COMMON,
    ),
    Row(
        code="blank_moved",
        title="the blank moved more than its temperature explains",
        client="blank moved between its readings",
        severities=(WARN,),
        wordings=MappingProxyType(
            {
                "from_then_on": Wording(
                    sentence="From its {place} reading on, the blank (the cylinder without soil, whose readings are "
                    "subtracted) stands {number:+.2f} g/L from where it stood; its temperature does not explain that.",
                    next_step=_MOVED,
                ),
                "once": Wording(
                    sentence="The {place} reading of the blank (the cylinder without soil, whose readings are "
                    "subtracted) lies {number:+.2f} g/L off its others; its temperature does not explain that, and "
                    "it counts little.",
                    next_step="Look for a typing slip, another cylinder or a dirty stem at that reading.",
                ),
                "with_temperature": Wording(
                    sentence="The blank followed its temperature {number:.1f} times as much as water does.",
                    next_step="Check sign and thermometer of the blank, and that it was read each time.",
                    unit="",
                ),
            }
        ),
        number="how far it moved",
        unit="g/L",
        limits=(
            "limits.blank_drift_g_l",
            "limits.noise_warn_sd",
            "inputs.blank_series:DRIFT_WIDER",
            "inputs.blank_series:TREND_LEAST",
            "inputs.blank_series:TREND_WIDER",
            "inputs.blank_series:SLOPE_LIMIT_SD",
            "inputs.blank_series:SLOPE_KNOWN_TO",
        ),
        source=NOISE,
    ),
)
