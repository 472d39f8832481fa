"""What is odd about a preparation: kept as typed, said to whoever typed it and to the reviewer."""

from __future__ import annotations

from decimal import Decimal

from particles.distribution import Finding, Severity
from particles.preparation.models import Preparation

DRY_GENTLY_BELOW_C = Decimal(40)
LEAST_LEFT = Decimal("0.5")
"""Of the mass received. Less than half of a bag is not lost by drying; from memory, not from a source."""


def odd_preparation(kept: Preparation) -> list[Finding]:
    """more_than_received, less_than_received, dried_hot."""
    return _against_received(kept) + _drying(kept)


def _against_received(kept: Preparation) -> list[Finding]:
    received_g, together_g = kept.sample.received_mass_g, kept.fine_earth_g + kept.gravel_g
    if received_g is None or received_g * LEAST_LEFT <= together_g <= received_g:
        return []
    if together_g > received_g:
        code, sentence = (
            "more_than_received",
            f"{together_g} g after drying is more than the {received_g} g received.",
        )
        step = "Look for a forgotten tare or a swapped bag."
    else:
        code, sentence = (
            "less_than_received",
            f"{together_g} g after drying is less than half of the {received_g} g received.",
        )
        step = "Look for lost soil, a second bag, or a mass typed in kg."
    return [_warn(code, sentence, step, together_g, "g")]


def _drying(kept: Preparation) -> list[Finding]:
    temperature_c = kept.drying_temperature_c
    if temperature_c <= DRY_GENTLY_BELOW_C:
        return []
    sentence = f"Dried at {temperature_c} °C, above {DRY_GENTLY_BELOW_C} °C (common practice)."
    step = "Clay may disperse less easily: watch for flocs, or dry a fresh part of the bag."
    return [_warn("dried_hot", sentence, step, temperature_c, "°C")]


def _warn(code: str, sentence: str, step: str, number: Decimal, unit: str) -> Finding:
    step = f"Kept as typed. {step} A wrong value is corrected with its reason."
    return Finding(code, Severity.WARN, sentence, step, float(number), unit)
