"""
Every range outside of which a number is a slip and not a measurement, written once.

The core refuses such numbers before any arithmetic; models, forms and commands refuse them at the door. What is
unusual but can be is another matter: those limits are `QualityLimits` and can be set by a method edition.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from particles.distribution.record import HydrometerScale


@dataclass(frozen=True, slots=True)
class Possible:
    """A range with its unit; both ends belong to it."""

    low: float
    high: float
    unit: str

    def __contains__(self, number: float | Decimal) -> bool:
        if isinstance(number, Decimal):
            low, high = self.exact
            return low <= number <= high
        return self.low <= number <= self.high

    def __str__(self) -> str:
        return f"{self.low:g} to {self.high:g} {self.unit}".rstrip()

    @property
    def ends(self) -> tuple[str, str]:
        """Lowest and highest as a person would write them, such as ('1.5', '5')."""
        return f"{self.low:g}", f"{self.high:g}"

    @property
    def exact(self) -> tuple[Decimal, Decimal]:
        """Lowest and highest as decimals, for what was typed."""
        low, high = self.ends
        return Decimal(low), Decimal(high)


# The portion

MASS_POSSIBLE_G = Possible(5.0, 200.0, "g")
"""Oven-dry mass of a test portion: less cannot be read on a stem, more hinders itself in settling.
*Common practice*."""
PARTICLE_DENSITY_POSSIBLE_G_CM3 = Possible(1.5, 5.0, "g/cm³")
"""Particle density of a soil: 1.5 lies below peat, 5 near pure iron oxide. From memory."""
PARTICLE_DENSITY_OF_SOIL_G_CM3 = Possible(2.2, 3.2, "g/cm³")
"""Beyond it a particle density is believed only with the record of its measurement: volcanic glass has 2.3 to 2.5,
iron-rich soil up to 3.2. From memory."""
BETWEEN_RUN_POSSIBLE_PCT = Possible(0.0, 20.0, "percentage points")
"""Between-run standard deviation of clay and of sand; 1 to 2 is *common practice*."""
GRAVEL_POSSIBLE_PCT = Possible(0.0, 99.9, "%")
"""Share of the whole sample coarser than 2 mm: some fine earth was left, for it was analysed."""

# The cylinder and its liquid

TEMPERATURE_POSSIBLE_C = Possible(10.0, 40.0, "°C")
"""Temperature of suspension and blank: where the formulas of `settling.water` were checked, with their sources there.
Readings in Fahrenheit fall outside."""
BLANK_APART_POSSIBLE_C = 10.0
"""Two cylinders on one bench differ by less; *common practice* allows 1 to 2. [C]"""
VOLUME_POSSIBLE_ML = Possible(500.0, 2000.0, "mL")
"""Filled volume of a sedimentation cylinder: 1000 is *common practice*, and in much less a hydrometer of some 28 cm
does not float."""
DISPERSANT_POSSIBLE_G_L = Possible(0.0, 25.0, "g/L")
"""Sodium hexametaphosphate in the filled cylinder: 5 is *common practice*, 10 the most its formulas are known to, 40 to
50 the strength of a stock solution."""
CYLINDER_ML = 1000.0
"""Volume of cylinder that a lot of dispersant is judged at; *common practice*. [mL]"""
DISPERSANT_USUAL_G_L = Possible(0.2, 10.0, "g/L")
"""What a lot may give in a filled cylinder: the factors of density and viscosity are known to about 10, and less than
0.2 disperses nothing. *Common practice*."""
EARLIEST_S = 5.0
"""No hydrometer comes to rest sooner after the end of stirring; sheets that start at 15 s are known. *Common
practice*. [s]"""
LATEST_S = 8 * 86_400.0
"""No reading is taken later after the end of stirring: a schedule ends within a week, *common practice* at 24 to 48 h.
[s]"""
LONGEST_SCHEDULE_S = 7 * 86_400.0
"""No method plans a reading later; *common practice* ends at 24 to 48 h. [s]"""
MIXING_POSSIBLE_MINUTES = Possible(0.5, 60.0, "min")
"""Time on the mixer: 2 to 15 min are *common practice*, more than an hour was typed in seconds."""

# The hydrometer

RELATIVE_DENSITY_POSSIBLE = Possible(0.99, 1.06, "")
"""Relative density a 151H can show in suspension or blank: its stem goes from 0.995 to 1.038 (ASTM E100, from
memory), with room for stems that begin lower or end higher. A number in here was not read in g/L."""
NO_RELATIVE_DENSITY = 2.0
"""A reading above it on a 151H is in g/L or in thousandths: 1.021 written as 21, or as 1021."""
STEM_POSSIBLE: Mapping[HydrometerScale, Possible] = MappingProxyType(
    {
        HydrometerScale.GRAMS_PER_LITRE: Possible(-20.0, 100.0, ""),
        HydrometerScale.RELATIVE_DENSITY: Possible(0.9, 1.2, ""),
    }
)
"""Marks a stem can carry: -5 to 60 g/L and 0.995 to 1.038 are usual (ASTM E100, from memory). [scale units]"""
MENISCUS_POSSIBLE: Mapping[HydrometerScale, Possible] = MappingProxyType(
    {
        HydrometerScale.GRAMS_PER_LITRE: Possible(0.0, 3.0, "scale units"),
        HydrometerScale.RELATIVE_DENSITY: Possible(0.0, 0.003, "scale units"),
    }
)
"""Height of the meniscus on the scale; 0.5 to 1 g/L is *common practice*. [scale units]"""
FALL_POSSIBLE_CM: Mapping[HydrometerScale, Possible] = MappingProxyType(
    {
        HydrometerScale.GRAMS_PER_LITRE: Possible(0.05, 0.5, "cm"),
        HydrometerScale.RELATIVE_DENSITY: Possible(80.0, 800.0, "cm"),
    }
)
"""Fall of the effective depth per unit of the scale; usual are 0.16 per g/L and 260 per unit of relative density, from
memory. [cm]"""
DEEPEST_CM = 40.0
"""Effective depth is above zero and no deeper than any sedimentation cylinder; *common practice*. [cm]"""

# The draws

LEAST_DRAWS = 100
"""Fewer draws hold no 2.5 % end of an interval to speak of; 10 000 are *common practice*. [-]"""

# The batch

MOST_CYLINDERS = 24
"""Cylinders one person can read in one batch, the blank's included; *common practice*."""
MOST_PORTIONS = MOST_CYLINDERS - 1
"""Portions in one batch: one cylinder holds the blank."""

# The sample before it is split

DRYING_POSSIBLE_C = Possible(5.0, 200.0, "°C")
"""Temperature at which a sample was dried, room or oven; not above 40 is *common practice*."""
DRYING_POSSIBLE_H = Possible(0.5, 2000.0, "h")
"""How long a sample was dried; *common practice* is days to a few weeks."""
ORGANIC_MATTER_POSSIBLE_PCT = Possible(0.0, 100.0, "%")
"""Organic matter, as any share."""
CONDUCTIVITY_POSSIBLE_DS_M = Possible(0.0, 200.0, "dS/m")
"""Electrical conductivity of an extract; saturated brine shows about 200 to 250, from memory."""

# Sieves, pipette and whole samples

SIEVE_OPENING_POSSIBLE_UM = Possible(20.0, 125_000.0, "µm")
"""Openings of test sieves: 20 µm to 125 mm (ISO 3310, from memory). An opening typed in mm falls below."""
DIAMETER_POSSIBLE_UM = Possible(0.01, 125_000.0, "µm")
"""Diameter of a point on a size curve: less settles for months."""
SAMPLE_POSSIBLE_G = Possible(1.0, 100_000.0, "g")
"""Dry mass of a whole sample and of what lies on a sieve: 40 kg serve the coarsest gravel, from memory."""
PIPETTE_VOLUME_POSSIBLE_ML = Possible(20.0, 2000.0, "mL")
"""Filled volume that a pipette draws from: tubes of some 50 mL are known, 500 and 1000 are *common practice*."""
