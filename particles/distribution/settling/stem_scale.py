"""The correction of an individual hydrometer's scale, from its calibration."""

from __future__ import annotations

from itertools import pairwise

from particles.distribution.errors import ScaleCorrectionError
from particles.distribution.record import Hydrometer, HydrometerScale

GRADUATION = {HydrometerScale.GRAMS_PER_LITRE: 1.0, HydrometerScale.RELATIVE_DENSITY: 0.001}
"""One graduation of the stem in scale units, 1 g/L and 0.001 of relative density; ASTM E100, from memory."""


def scale_correction(hydrometer: Hydrometer, reading: float) -> float:
    """
    Correction that the calibration adds to a reading, in scale units; 0 for an instrument without one.

    Straight between the calibrated points, flat up to one division beyond them; ScaleCorrectionError further
    out, or when the points do not rise.
    """
    points = hydrometer.scale_corrections
    if not points:
        return 0.0
    if any(b <= a for (a, _), (b, _) in pairwise(points)):
        raise ScaleCorrectionError(
            "The readings of the scale corrections must rise",
            ", ".join(f"{at:g}" for at, _ in points),
            "Check the calibration of the hydrometer.",
        )
    low, high = points[0][0], points[-1][0]
    reach = GRADUATION[hydrometer.scale] + 1e-9
    if not low - reach <= reading <= high + reach:
        raise ScaleCorrectionError(
            f"Reading more than one division beyond the calibrated scale, {low:g} to {high:g}",
            f"{reading:g}",
            "Have the hydrometer calibrated over the readings it is used for.",
        )
    for (a, at_a), (b, at_b) in pairwise(points):
        if a <= reading <= b:
            return at_a + (reading - a) / (b - a) * (at_b - at_a)
    return points[0][1] if reading < low else points[-1][1]


def on_scale(hydrometer: Hydrometer, reading: float) -> float:
    """The reading a true scale would have shown, in scale units."""
    return reading + scale_correction(hydrometer, reading)
