"""
What each qualifier means for the figures of a client: what it may move, which way, and whether the interval counts it.

No sentence holds a number of its own; where one is known it stands in the sentence of the finding. Directions follow
from how sizes and percentages are computed, or are *common practice*.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

NOT_COUNTED = "The interval does not include it."
AT_A_STOP = "Because of it no figures are reported; the line “no figures reported” says what that means."
NO_FIGURES_TO_MOVE = "No figures are reported for this sample, so it moves none."
OWN_WORDS = (
    "The laboratory reports the figures with this reservation. Where it does not say how far they may be off, ask the "
    "laboratory; the interval does not include it."
)
"""Of a qualifier that a reviewer wrote for the client."""
NAMED_BELOW = "Whatever else was found in this run follows this line."
"""Of the line that says why there are no figures."""

_GAP = (
    "Between the readings on either side the curve is read off over a wider gap: shares with a limit there are less "
    "certain, up or down. The interval includes reading off between readings."
)
_CLUMPED = (
    "If the soil clumped, clumps settled like larger grains: clay comes out too low, and silt or sand too high. "
    f"{NOT_COUNTED}"
)
_WRONG_READING = (
    "If a reading is wrong, the curve is pulled up or down near its time, and shares read there come out too high or "
    f"too low: clay by late readings, silt and sand by early ones. {NOT_COUNTED}"
)
_BLANK = (
    "The blank is subtracted from every reading. If it is too high, clay comes out too low; if it is too low, clay "
    f"comes out too high. Silt takes up the difference, or sand where it was not sieved. {NOT_COUNTED}"
)
_BLANK_COUNTED = (
    "The blank is subtracted from the reading, so the shares read there may be too high or too low. The interval "
    "includes that such a blank is less certain."
)
_MASS = (
    "Every percentage by hydrometer is a share of the oven-dry mass: if that is recorded too heavy, they come out too "
    f"low. {NOT_COUNTED}"
)
_GRAVEL = "Only the share of gravel is touched. Sand, silt and clay are shares of the soil finer than 2 mm and stay."
_TEMPERATURE = (
    "Temperature decides how fast grains settle and what the blank takes off. If one is wrong, shares read near its "
    "time may be a little too high or too low; the interval includes the uncertainty of a temperature, not a wrong "
    "one."
)
_EXTENDED = (
    "The curve ends short of the limit and was carried on to it. Nothing was measured there, so the share may be too "
    "high or too low, and silt takes up the difference."
)
_NEGATIVE = (
    "So little is there that it cannot be told from nothing. The scatter of reading, which the interval includes, can "
    "put a figure a little below nothing."
)

EFFECTS: Mapping[str, str] = MappingProxyType(
    {
        "seen": (
            "Readings near it may be a little too high or too low, and with them the shares that are read there; how "
            f"far is not known. {NOT_COUNTED}"
        ),
        "time_doubtful": (
            "The size that a reading stands for follows from its time: shares read near it may be too high or too "
            "low. Whether the interval includes it is said above."
        ),
        "temperature_jump": _TEMPERATURE,
        "temperature_copied": _TEMPERATURE,
        "temperature_unchanged": (
            "If the temperature was this steady, it moves nothing. If it was not read each time, shares may be a "
            "little too high or too low; the interval includes the uncertainty of a temperature, not a wrong one."
        ),
        "timer_suspected": (
            "If so, the readings belong to other sizes than those given, the first ones most: the border between sand "
            f"and silt moves, clay hardly. {NOT_COUNTED}"
        ),
        "reading_missed": _GAP,
        "slots_absent": _GAP,
        "reading_left_out": _GAP,
        "off_schedule": (
            "Nothing is wrong with the figures: the size was computed from the time at which it was really read."
        ),
        "beyond_stokes": (
            "Grains this coarse settle more slowly than the law says, so the point stands for a somewhat coarser size "
            f"than the one given. {NOT_COUNTED}"
        ),
        "typo_suspected": _WRONG_READING,
        "rising_reading": (
            "The curve was kept from rising there, so shares read near it may be too high or too low. The interval "
            "includes the scatter of reading, not a wrong reading."
        ),
        "gel_suspected": f"If the late readings are too high, clay comes out too high and silt too low. {NOT_COUNTED}",
        "stuck_reading": (
            "If a reading was not taken anew, it is too high: what is finer comes out too high there, clay if it was "
            f"a late one. {NOT_COUNTED}"
        ),
        "fell_too_fast": _CLUMPED,
        "clear_late": _CLUMPED,
        "flocculation_suspected": _CLUMPED,
        "negative_reading": _NEGATIVE,
        "meniscus_twice": (
            "If so, every reading is shifted the same way, and clay comes out too high or too low; silt takes up the "
            f"difference, or sand where it was not sieved. {NOT_COUNTED}"
        ),
        "blank_interpolated": _BLANK_COUNTED,
        "blank_unusual": _BLANK,
        "blank_temperature_missing": _BLANK,
        "blank_temperature_apart": _BLANK_COUNTED,
        "blank_temperature_far_apart": _BLANK_COUNTED,
        "blank_far_in_time": _BLANK_COUNTED,
        "blank_temperature_moved": _BLANK_COUNTED,
        "blank_not_read": _BLANK_COUNTED,
        "blank_level": _BLANK,
        "blank_drift": _BLANK,
        "blank_trend": _BLANK,
        "blank_against_temperature": _BLANK,
        "blank_copied": _BLANK,
        "blank_moved": _BLANK,
        "mass_unusual": (
            "It moves nothing if the weighing is right. A light portion makes readings less certain for their size, "
            "which the interval includes; a wrong weighing it does not."
        ),
        "moisture_unusual": (
            "If the moisture is wrong, so is the dry mass: too much moisture taken off makes every percentage by "
            f"hydrometer too high, too little too low. {NOT_COUNTED}"
        ),
        "volume_unusual": (
            "If the volume is wrong, every percentage by hydrometer is too high or too low with it, by the same "
            f"share. {NOT_COUNTED}"
        ),
        "oven_dry_above_air_dry": _MASS,
        "density_unusual": (
            "Sizes and percentages follow from the density; if it is wrong, they all move together, and shares come "
            "out too high or too low. The interval includes a small uncertainty of the density, not a wrong one."
        ),
        "density_assumed": (
            "The usual value for mineral soil was taken. Another density moves sizes and percentages together, so "
            "shares may be too high or too low; the interval includes an uncertainty of the density. Of organic, "
            "volcanic or iron-rich soil it may lie further off than that."
        ),
        "dispersant_high": (
            "Density and flow of the liquid were computed beyond where they are known, so sizes may be a little too "
            f"coarse or too fine. {NOT_COUNTED}"
        ),
        "gravel_on_sand_sieves": (
            "Sand comes out too high by what is named above, and silt and clay too low to match. "
            + NOT_COUNTED
        ),
        "sieve_loss_small": (
            "What was lost is missing on one of the sieves: a size of sand may come out too low, by no more than what "
            f"was lost. {NOT_COUNTED}"
        ),
        "gravel_basis_missing": _GRAVEL,
        "sample_small_for_grain": (
            f"{_GRAVEL} A few large grains more or less in the sample would change the share of gravel."
        ),
        "gravel_apart": f"{_GRAVEL} The share of gravel may be off by as much as the two figures differ.",
        "curve_adjusted": (
            "A curve cannot rise towards finer sizes, so points were moved until it does not, none by more than is "
            "named above. A share that is read there may have moved as far, up or down. The interval includes the "
            "scatter of reading, not a wrong reading."
        ),
        "curve_held": (
            "It moves no figure: where the hydrometer shows more than passed the sieve, what passed counts, and no "
            "share is read from a higher point."
        ),
        "join_not_compared": (
            "It moves no figure: sieve and hydrometer measure the same curve from its two ends, and here nothing "
            "shows whether they meet. If they do not, the interval does not include it."
        ),
        "join_accepted": (
            "Nothing is wrong and no figure moves: sieve and hydrometer measure one curve from its two ends, and "
            "where they meet they agree as well as reading and settling allow."
        ),
        "join_apart": (
            "Sand by sieve or clay by hydrometer may be too high or too low, and silt, which is the rest, takes up "
            f"the step. {NOT_COUNTED}"
        ),
        "clay_limit_extrapolated": _EXTENDED,
        "sand_limit_extrapolated": _EXTENDED,
        "clay_negative": _NEGATIVE,
        "silt_negative": _NEGATIVE,
        "sand_negative": _NEGATIVE,
        "system_limit_not_reached": "It moves no figure: only the class by that further system is not given.",
        "duplicate_outside_limit": (
            "The figures are those of the first portion. Another portion of the same sample may differ from them by "
            "as much as is named above; the interval includes the usual difference between two portions, not this one."
        ),
        "soak_short": (
            "Soil that soaked too short may not come apart into single grains: clay then comes out too low, and silt "
            f"or sand too high. {NOT_COUNTED}"
        ),
        "soak_long": (
            "Soil that soaked too long may grow mould or clump again, and water may have left it: clay may come out "
            f"too low or too high. {NOT_COUNTED}"
        ),
        "instrument_unfit": (
            "The instrument was not shown to read right on that day. If it read off, every share read with it may be "
            f"too high or too low. {NOT_COUNTED}"
        ),
        "exchange_considered": (
            "The laboratory weighed whether these readings belong to another sample and let them stand on the evidence "
            "named. Had they been exchanged, shares would be too high or too low by up to what is named. "
            f"{NOT_COUNTED}"
        ),
        "reference_soil_not_counted": (
            "A check on the whole batch is missing: a shift of all its figures alike, too high or too low, would not "
            f"have been seen by it. {NOT_COUNTED}"
        ),
        "sieving_asked_for": (
            "Sand was read from the curve of the hydrometer and not weighed on a sieve, so it is less certain, up or "
            "down, and its sizes are not told apart. The interval includes reading off between readings."
        ),
    }
)
"""Code of a finding that may be printed beside figures -> what it means for them."""

WORKED_OUT = "how these figures were worked out"
REMARKS: tuple[tuple[str, str, str], ...] = (
    (
        "No reading lies near the clay limit",
        "no reading near the clay limit",
        "Clay may be too high or too low by more than its interval says; silt takes up the difference.",
    ),
    (
        "Sand was sieved from another portion",
        "sand from another portion",
        "Two portions of one sample are never quite alike: sand may be a little too high or too low for the portion "
        "in the cylinder, and silt takes up the difference.",
    ),
    (
        "Sand was weighed on a sieve of",
        "sand sieve beside the limit",
        "Sand, and silt with it, follow the sieve and not the limit itself; which way is said above.",
    ),
    (
        "Readings and blanks carry the scale corrections",
        "scale of the hydrometer corrected",
        "Nothing is wrong: the hydrometer was calibrated, and the figures include what was found.",
    ),
)
"""Beginning of a run's own note on its figures -> what stands for it on a certificate, and what it means."""
NO_FAULT = "Nothing is wrong with the figures: it says how they were worked out."


def effect_of(code: str, severity: str, *, reported: bool) -> str:
    """
    What a printed finding means for the figures of its sample.

    Parameters
    ----------
    reported : whether the sample has figures.

    Raises
    ------
    KeyError for a code without a sentence: a mistake in the program.
    """
    if severity == "stop":
        return AT_A_STOP
    effect = EFFECTS[code]
    return effect if reported else NO_FIGURES_TO_MOVE


def remark_of(note: str) -> tuple[str, str]:
    """Title and meaning of a run's own note on its figures."""
    for beginning, title, effect in REMARKS:
        if note.startswith(beginning):
            return title, effect
    return WORKED_OUT, NO_FAULT
