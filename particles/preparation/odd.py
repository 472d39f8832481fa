"""Findings about an odd preparation: it is kept as typed, and shown to whoever typed it and to the reviewer."""

from __future__ import annotations

from decimal import Decimal

from particles.distribution import Finding, finding
from particles.preparation.models import Preparation

DRY_GENTLY_BELOW_C = Decimal(40)
"""Clay may disperse less easily after hotter drying. *Common practice*. [C]"""
LEAST_LEFT = Decimal("0.5")
"""Of the mass received. Less than half of a bag is not lost by drying; from memory, not from a source."""


def odd_preparation(kept: Preparation) -> list[Finding]:
    """Findings about a preparation: more_than_received, less_than_received, dried_hot."""
    return _against_received(kept) + _drying(kept)


def _against_received(kept: Preparation) -> list[Finding]:
    received_g, together_g = kept.sample.received_mass_g, kept.fine_earth_g + kept.gravel_g
    if received_g is None or received_g * LEAST_LEFT <= together_g <= received_g:
        return []
    code = "more_than_received" if together_g > received_g else "less_than_received"
    return [finding(code, number=float(together_g), together_g=together_g, received_g=received_g)]


def _drying(kept: Preparation) -> list[Finding]:
    temperature_c = kept.drying_temperature_c
    if temperature_c <= DRY_GENTLY_BELOW_C:
        return []
    return [
        finding(
            "dried_hot",
            number=float(temperature_c),
            temperature_c=temperature_c,
            gently_c=DRY_GENTLY_BELOW_C,
        )
    ]
