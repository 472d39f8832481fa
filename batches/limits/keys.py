"""Which charts there are: a quantity, and the soil, lot or method it belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

SEPARATOR = "."


class Kind(StrEnum):
    """What a point of a chart is about."""

    REFERENCE = "reference soil"
    BLANK = "blank"
    DUPLICATES = "duplicates"
    TEMPERATURE = "temperature"


class Quantity(StrEnum):
    """What a chart shows."""

    REFERENCE_SAND = "reference-sand"
    REFERENCE_CLAY = "reference-clay"
    BLANK_LEVEL = "blank-level"
    DUPLICATES_SAND = "duplicates-sand"
    DUPLICATES_CLAY = "duplicates-clay"
    TEMPERATURE = "temperature"

    @property
    def kind(self) -> Kind:
        """What its points are about."""
        return _FACTS[self].kind

    @property
    def fraction(self) -> str:
        """The fraction it is the figure of: sand, clay or ''."""
        return _FACTS[self].fraction

    @property
    def unit(self) -> str:
        """Unit of its values, as printed."""
        return _FACTS[self].unit

    @property
    def most_plausible_sd(self) -> float:
        """Beyond this standard deviation something else than scatter was measured, in the unit of the values."""
        return _FACTS[self].most_plausible_sd

    @property
    def least_points(self) -> int:
        """Points from which limits are proposed."""
        return _FACTS[self].least_points


@dataclass(frozen=True, slots=True)
class _Facts:
    kind: Kind
    unit: str
    fraction: str
    most_plausible_sd: float
    least_points: int


MOST_PLAUSIBLE_BETWEEN_RUNS_PCT = 3.0
"""Twice the figure that the shipped editions take without duplicates, and three to five times that of laboratories
(0.6 sand, 1.0 silt, 0.8 clay: variability in soil characterization data, northeastern United States). A spread beyond
it is a mix-up, two soils or two methods, not scatter. [percentage points]"""
MOST_PLAUSIBLE_BLANK_G_L = 0.5
"""Blanks of one lot scatter by reading and mixing, 0.2 to 0.3; beyond half a gram each batch's clay would be uncertain
by more than a point. *Common practice*. [g/L]"""
MOST_PLAUSIBLE_ROOM_C = 3.0
"""A room that scatters by more from batch to batch is not the one the method was tried in. *Chosen*. [°C]"""

_FACTS: dict[Quantity, _Facts] = {
    # An assigned value comes from 10 to 20 runs on different days: *common practice*.
    Quantity.REFERENCE_SAND: _Facts(Kind.REFERENCE, "%", "sand", MOST_PLAUSIBLE_BETWEEN_RUNS_PCT, 10),
    Quantity.REFERENCE_CLAY: _Facts(Kind.REFERENCE, "%", "clay", MOST_PLAUSIBLE_BETWEEN_RUNS_PCT, 10),
    Quantity.BLANK_LEVEL: _Facts(Kind.BLANK, "g/L", "", MOST_PLAUSIBLE_BLANK_G_L, 8),
    # From 8 pairs on s is known to 25 % (decision 0007).
    Quantity.DUPLICATES_SAND: _Facts(Kind.DUPLICATES, "points", "sand", MOST_PLAUSIBLE_BETWEEN_RUNS_PCT, 8),
    Quantity.DUPLICATES_CLAY: _Facts(Kind.DUPLICATES, "points", "clay", MOST_PLAUSIBLE_BETWEEN_RUNS_PCT, 8),
    Quantity.TEMPERATURE: _Facts(Kind.TEMPERATURE, "°C", "", MOST_PLAUSIBLE_ROOM_C, 10),
}


@dataclass(frozen=True, slots=True)
class ChartKey:
    """One chart: its quantity, with the soil or lot and the method it belongs to."""

    quantity: Quantity
    of: int = 0
    """Primary key of the reference soil or dispersant lot; 0 where there is none."""
    method: str = ""
    """Code of the method's first edition; '' where the method does not matter."""

    @property
    def address(self) -> str:
        """
        The key as it stands in an address.

        >>> ChartKey(Quantity.REFERENCE_CLAY, 3, "four-2026-1").address
        'reference-clay.3.four-2026-1'
        """
        return SEPARATOR.join((self.quantity, str(self.of), self.method))

    @classmethod
    def parse(cls, address: str) -> ChartKey | None:
        """
        The key of an address; None for what is none.

        >>> ChartKey.parse("temperature.0."), ChartKey.parse("rain.0.")
        (ChartKey(quantity=<Quantity.TEMPERATURE: 'temperature'>, of=0, method=''), None)
        """
        parts = address.split(SEPARATOR, 2)
        if (
            len(parts) != 3
            or parts[0] not in list(Quantity)
            or not parts[1].isdecimal()
            or len(parts[1]) > 18
        ):
            return None
        key = cls(Quantity(parts[0]), int(parts[1]), parts[2])
        return key if key.is_whole else None

    @property
    def is_whole(self) -> bool:
        """Whether it names what its quantity needs, and nothing else."""
        kind = self.quantity.kind
        needs_of = kind in (Kind.REFERENCE, Kind.BLANK)
        needs_method = kind in (Kind.REFERENCE, Kind.DUPLICATES)
        return bool(self.of) == needs_of and bool(self.method) == needs_method
