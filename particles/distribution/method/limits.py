"""The numeric limits of the checks that a laboratory may set for itself; held by a method edition."""

from __future__ import annotations

from dataclasses import dataclass, field

from particles.distribution.record import ADDED

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class QualityLimits:
    """Limits behind the findings; the defaults are common practice. What is impossible stays fixed elsewhere."""

    noise_warn_sd: float = 3.0
    """A step counts as more than reading noise beyond so many of its standard deviations. [-]"""
    noise_stop_sd: float = 4.0
    blank_usual_g_l: Range = (0.0, 9.0)
    blank_possible_g_l: Range = (-3.0, 12.0)
    blank_apart_warn_c: float = 1.0
    blank_apart_wide_c: float = 2.0
    blank_moved_warn_c: float = field(default=0.5, metadata=ADDED)
    """How far a reading may lie in temperature from every blank, when none was read within the window of time."""
    blank_drift_g_l: float = 0.5
    rise_warn_g_l: float = 0.5
    rise_stop_g_l: float = 1.0
    rise_warn_sd: float = 2.2
    """A rise must also exceed so many standard deviations of the difference of two readings. [-]"""
    rise_stop_sd: float = 2.5
    negative_stop_g_l: float = -0.5
    portion_excess: float = 1.02
    """Soil found in suspension per soil in the portion. [-]"""
    adjustment_warn_pct: float = 1.0
    adjustment_stop_pct: float = 3.0
    temperature_jump_c: float = 2.0
    stuck_readings: int = 4
    stuck_span_s: float = 3600.0
    reynolds: float = 1.0
    fast_fall_finer_than_um: float = 30.0
    fast_fall_pct_per_halving: float = 50.0
    """Percent finer lost while the diameter halves; no dispersed soil falls so fast. [%]"""
    clear_late_pct: float = 10.0
    """Below it, a soil that felt clayey has lost its clay: flocculated. [%]"""
    blank_level_apart_g_l: float = 2.5
    """How far the blank may lie from what its dispersant gives. [g/L]"""
    blank_copied_moved_g_l: float = 1.0
    """Expected move of a blank that must not read the same throughout. [g/L]"""
    sieve_balance_g: float = 0.1
    sieve_balance_pct: float = 0.2
    sieve_loss_pct: float = 2.0
    join_warn_pct: float = 3.0
    join_stop_pct: float = 5.0
    negative_fraction_pct: float = -2.0
    """Between this and zero a fraction is shown with a warning; below it nothing is certified. [%]"""
    extrapolation_factor: float = 1.3
    """How far beyond the outermost point a size limit may lie, as a ratio of diameters. [-]"""
    gravel_apart_pct: float = 0.5
    """How far the stated gravel may lie from that of the gravel sieves. [percentage points]"""
    gravel_in_portion_pct: float = field(default=1.0, metadata=ADDED)
    """How much of the portion may turn out coarser than 2 mm before nothing is certified. [% of the portion]"""
    mass_usual_g: Range = (10.0, 120.0)
    moisture_usual_pct: float = 15.0
    moisture_most_pct: float = field(default=30.0, metadata=ADDED)
    """Soil that holds more is not air-dry, and nothing on that moisture is certified; on oven-dry basis. [%]"""
    density_usual_g_cm3: Range = (2.4, 3.0)
    dispersant_known_to_g_l: float = 10.0


STANDARD_LIMITS = QualityLimits()
