"""
Why a sample has no figures, as its client reads it: by the kind of what was found, never in a reviewer's own words.

A reviewer's note is written for the laboratory and stays there. What a client needs is what was found, what that means
for the figures, and what can be done now; each kind of finding says it in the same sentence on every certificate.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

NO_FIGURES = "No figures are reported."
JUDGED = (
    "The person of the laboratory who reviewed this run judged that its figures are not safe to rely on. Ask the "
    "laboratory what was found."
)
"""Stands where no kind of finding lies behind the decision."""
NEXT = (
    "The readings and the review of this run are kept. Ask the laboratory to explain them, or whether a new portion "
    "can be analysed from soil that is left."
)

_SHORT = (
    "Readings that the figures need are missing, so the curve does not reach every size that is reported."
)
_SCALE = (
    "The suspension was outside the scale of the hydrometer, so a reading that the figures need "
    "could not be taken."
)
_CLUMPED = (
    "The readings are like those of a soil that clumped together in the cylinder. Clumps settle faster than single "
    "grains, so clay would come out too low."
)
_RISES = "The readings do not fall as those of settling soil do, so at least one of them is no measure of this soil."
_COPIED = (
    "Readings are equal where they should differ, so it is not certain that each was read from this cylinder."
)
_MASS = (
    "The masses recorded for this portion do not agree with each other or with the readings. Every percentage is a "
    "share of that mass, so none is certain."
)
_SIEVES = (
    "The masses on the sieves do not add up to what was put on them, so the share of sand is not certain."
)
_JOIN = (
    "The sieves and the hydrometer measure the same curve from its two ends. Here they do not agree where they meet, "
    "and nothing tells which of the two is wrong."
)
_BLANK = (
    "The blank, a cylinder without soil whose readings are subtracted from those of the sample, is missing or cannot "
    "be right, so every percentage may be shifted."
)
_BELOW = (
    "A share comes out further below nothing than the scatter of reading can do, so something that was measured or "
    "subtracted is wrong."
)
_DENSITY = (
    "The particle density, by which settling is turned into sizes, is not supported by a record, so every size may be "
    "shifted."
)
_WARMTH = (
    "The temperatures of the run are not certain. They decide how fast grains settle, so every size "
    "may be shifted."
)
_TIMES = "The times of readings are not certain. The sizes follow from them, so points of the curve may be shifted."
_ENTERED = "The figures as they were entered contradict each other."
_SOIL = (
    "The preparation of this soil before the test departs from what the method asks, so the test may not show the soil "
    "as it was received."
)

WHY: Mapping[str, str] = MappingProxyType(
    {
        "run_void": (
            "The run was made void for what happened at the bench; the cause is named below. What it read is not used."
        ),
        "seen": (
            "Somebody at the bench saw something at the cylinder, named below, after which the readings may not show "
            "this soil."
        ),
        "cannot_be_computed": "What was recorded does not allow figures to be computed; the cause is named below.",
        "by_time_only": "The method names its figures by the time of reading; it has none for sand, silt and clay.",
        "nothing_in_suspension": (
            "No reading shows soil in the liquid beyond the scatter of reading, so there is no curve to read off."
        ),
        "beyond_stokes": (
            "Grains this coarse settle too fast for the law by which readings are turned into sizes."
        ),
        "runs_exchanged": (
            "This cylinder and another of the same batch may have been exchanged, so it is not certain that the "
            "readings are those of this sample."
        ),
        "hand_disagrees": (
            "The soil felt by hand and the figures do not agree, so it is not certain that the readings are those of "
            "this soil."
        ),
        "duplicate_outside_limit": (
            "Two portions of this sample differ by more than the method allows, and nothing tells which of them shows "
            "the soil."
        ),
        "volume_unusual": "The volume of the cylinder is not certain, and every percentage goes with it.",
        "dispersant_high": (
            "The liquid held more dispersant than its formulas are known to, so sizes and percentages may be shifted."
        ),
        **dict.fromkeys(
            (
                *("reading_missed", "slots_absent", "reading_left_out", "too_few_points"),
                *("limit_far_from_points", "outer_slot_missing", "clay_limit_not_reached"),
                *(
                    "clay_limit_extrapolated",
                    "sand_limit_not_reached",
                    "sand_limit_extrapolated",
                    "no_sand_sieve",
                ),
                *("sieving_asked_for", "system_limit_not_reached", "system_not_confirmed", "aliquot_missing"),
            ),
            _SHORT,
        ),
        **dict.fromkeys(("above_scale", "below_scale"), _SCALE),
        **dict.fromkeys(("fell_too_fast", "clear_late", "flocculation_suspected"), _CLUMPED),
        **dict.fromkeys(
            (
                *("rising_reading", "gel_suspected", "typo_suspected", "late_rise_alone"),
                *("slot_rises_in_batch", "curve_adjusted", "percent_rises"),
            ),
            _RISES,
        ),
        **dict.fromkeys(("stuck_reading", "readings_copied"), _COPIED),
        **dict.fromkeys(
            (
                *(
                    "more_than_portion",
                    "no_oven_dry_mass",
                    "mass_unusual",
                    "moisture_unusual",
                    "masses_disagree",
                ),
                *("oven_dry_above_air_dry", "portion_too_light", "portion_too_heavy", "portion_off_advice"),
                *(
                    "portion_not_as_asked",
                    "moisture_dishes_apart",
                    "more_than_received",
                    "less_than_received",
                ),
                *("heavier_after_pretreatment", "washed_above_portion"),
            ),
            _MASS,
        ),
        **dict.fromkeys(
            (
                *("sieve_gain", "sieve_loss", "sieve_loss_small", "sieve_start_missing", "washing_in_pan"),
                *("gravel_on_sand_sieves", "gravel_basis_missing", "gravel_apart", "sample_small_for_grain"),
            ),
            _SIEVES,
        ),
        **dict.fromkeys(("join_apart", "join_not_compared", "join_accepted", "curve_held"), _JOIN),
        **dict.fromkeys(
            (
                *("no_blank", "blank_not_measured", "blank_missing", "correction_missing", "meniscus_twice"),
                *("blank_interpolated", "blank_unusual", "blank_impossible", "blank_temperature_missing"),
                *("blank_temperature_apart", "blank_temperature_far_apart", "blank_far_in_time"),
                *("blank_temperature_moved", "blank_not_read", "blank_without_dispersant", "blank_level"),
                *("blank_drift", "blank_trend", "blank_against_temperature", "blank_copied", "blank_moved"),
                "blank_apart_from_batch",
            ),
            _BLANK,
        ),
        **dict.fromkeys(("negative_reading", "clay_negative", "silt_negative", "sand_negative"), _BELOW),
        **dict.fromkeys(
            ("density_unusual", "density_assumed", "density_without_record", "density_apart"), _DENSITY
        ),
        **dict.fromkeys(
            (
                *("temperature_jump", "temperature_copied", "temperature_unchanged"),
                "temperature_apart_from_batch",
            ),
            _WARMTH,
        ),
        **dict.fromkeys(("time_doubtful", "timer_suspected", "off_schedule"), _TIMES),
        **dict.fromkeys(
            (
                *("imported_sum", "imported_out_of_range", "imported_slipped", "imported_exchanged"),
                *("imported_depth", "imported_twin", "imported_class", "aliquots_apart", "aliquots_averaged"),
            ),
            _ENTERED,
        ),
        **dict.fromkeys(("soak_short", "soak_long", "dried_hot"), _SOIL),
        "instrument_unfit": (
            "An instrument was overdue for its check or withdrawn on the day it was read, so every figure read with it "
            "may be shifted."
        ),
        "reference_soil_not_counted": (
            "The reference soil of the batch did not count, so nothing of known composition shows that the batch read "
            "right."
        ),
        "exchange_considered": (
            "These readings may belong to another sample of the batch, and nothing on record settles it."
        ),
    }
)
"""Code of a finding, or kind of a cause, that figures are withheld for -> what was found and what it means."""


def why_no_figures(kinds: Iterable[str]) -> str:
    """
    What a client reads of a sample without figures.

    Parameters
    ----------
    kinds : codes of the stops and kinds of the causes behind it; none when only a person's judgement is.

    Raises
    ------
    KeyError for a kind without a sentence: a mistake in the program.
    """
    found = list(dict.fromkeys(WHY[kind] for kind in kinds)) or [JUDGED]
    return " ".join((NO_FIGURES, *found, NEXT))
