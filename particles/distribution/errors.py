"""
What makes a computation impossible, one class per thing that can be wrong.

DistributionError
├── the readings: NoReadingsError, NotANumberError, ReadingAbsentError, TimesNotRisingError, WrongScaleError
├── around them: TemperatureOutOfRangeError, VolumeOutOfRangeError, DispersantOutOfRangeError,
│                DoubleCorrectionError
├── the portion: MassOutOfRangeError, MoistureNegativeError, DensityOutOfRangeError
├── instrument and sieves: DepthOutsideTableError, DepthNotPositiveError, HydrometerGeometryError,
│                InstrumentOutOfRangeError, ScaleCorrectionError, SieveOrderError, SieveMassNegativeError,
│                GravelOutOfRangeError
└── how it was asked for: DrawsTooFewError, UnknownMethodError, EditionError, UnknownTextureError

Doubtful but computable is a `Finding`, not an error.
"""

from __future__ import annotations


class DistributionError(ValueError):
    """
    Nothing can be computed from this record.

    Parameters
    ----------
    what : what is wrong, in words.
    number : the number that shows it, with its unit, or ''.
    next_step : what a person should do.
    reading_index : index into RunRecord.readings, when it is about one of them.
    """

    def __init__(self, what: str, number: str, next_step: str, reading_index: int | None = None) -> None:
        self.what = what
        self.number = number
        self.next_step = next_step
        self.reading_index = reading_index
        place = "" if reading_index is None else f"Reading {reading_index + 1}: "
        super().__init__(f"{place}{what}{f' ({number})' if number else ''}. {next_step}")


class NoReadingsError(DistributionError):
    """A run without a single slot."""


class NotANumberError(DistributionError):
    """Not finite."""


class ReadingAbsentError(DistributionError):
    """Marked as read but holds no value, or the reverse."""


class TimesNotRisingError(DistributionError):
    """Elapsed times must be above zero and rise."""


class WrongScaleError(DistributionError):
    """A value of the other hydrometer scale."""


class TemperatureOutOfRangeError(DistributionError):
    """Water formulas hold from 10 to 40 C."""


class MassOutOfRangeError(DistributionError):
    """Portion mass outside anything a cylinder can take."""


class MoistureNegativeError(DistributionError):
    """Air-dry soil cannot weigh less than oven-dry soil."""


class DensityOutOfRangeError(DistributionError):
    """No soil mineral has this density."""


class VolumeOutOfRangeError(DistributionError):
    """Not a sedimentation cylinder."""


class DispersantOutOfRangeError(DistributionError):
    """Dispersant concentration below zero or far above what the formulas cover."""


class DoubleCorrectionError(DistributionError):
    """Figures of two correction rules in one run."""


class DepthOutsideTableError(DistributionError):
    """A reading beyond the calibrated points of the instrument."""


class DepthNotPositiveError(DistributionError):
    """The depth line gives a depth of zero or less."""


class HydrometerGeometryError(DistributionError):
    """Bulb, stem and cylinder measurements that give no falling depth."""


class ScaleCorrectionError(DistributionError):
    """A reading beyond the calibrated points of the scale, or points that do not rise."""


class SieveOrderError(DistributionError):
    """Openings must fall from sieve to sieve."""


class GravelOutOfRangeError(DistributionError):
    """No share of the whole sample."""


class InstrumentOutOfRangeError(DistributionError):
    """A depth calibration, meniscus or scale that no hydrometer has."""


class SieveMassNegativeError(DistributionError):
    """A negative mass on a sieve or in the pan."""


class DrawsTooFewError(DistributionError):
    """Neither zero nor enough draws for an interval."""


class DrawsContradictError(DistributionError):
    """Both a fixed number of draws and digits to draw until."""


class DigitsOutOfRangeError(DistributionError):
    """Digits the adaptive number of draws cannot be asked for."""


class DuplicatesTooFewError(DistributionError):
    """Not enough pairs of runs for a standard deviation."""


class BetweenRunSpreadOutOfRangeError(DistributionError):
    """A between-run standard deviation no laboratory has."""


class UnknownMethodError(DistributionError):
    """No edition has this code."""


class EditionError(DistributionError):
    """A method edition that contradicts itself."""


class UnknownTextureError(DistributionError):
    """No texture system, class or set of fractions like this."""
