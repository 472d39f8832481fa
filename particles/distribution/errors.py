"""
Refusals of the computing core, one class per thing that makes a computation impossible.

DistributionError
├── the readings: NoReadingsError, NotANumberError, ReadingAbsentError, TimesNotRisingError, WrongScaleError
├── around them: TemperatureOutOfRangeError, VolumeOutOfRangeError, DispersantOutOfRangeError,
│                DoubleCorrectionError
├── the portion: MassOutOfRangeError, MoistureNegativeError, DensityOutOfRangeError, PycnometerError
├── instrument and sieves: DepthOutsideTableError, DepthNotPositiveError, HydrometerGeometryError,
│                InstrumentOutOfRangeError, ScaleCorrectionError, SieveOrderError, SieveMassNegativeError,
│                GravelOutOfRangeError
├── duplicates: DuplicatesTooFewError, BetweenRunSpreadOutOfRangeError
└── how it was asked for: DrawsTooFewError, DrawsTooManyError, DrawsContradictError, DigitsOutOfRangeError,
                 UnknownMethodError, EditionError, UnknownTextureError

What is unusual but can be computed is a `Finding`, not an error.
"""

from __future__ import annotations


class DistributionError(ValueError):
    """
    Nothing can be computed from this record.

    Parameters
    ----------
    what : what is wrong, as a sentence.
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
    """A number that is not finite."""


class ReadingAbsentError(DistributionError):
    """A slot marked as read that holds no value, or the reverse."""


class TimesNotRisingError(DistributionError):
    """Elapsed times that no hydrometer can be read at, that do not rise, or that lie beyond any schedule."""


class WrongScaleError(DistributionError):
    """A value of the other hydrometer scale."""


class TemperatureOutOfRangeError(DistributionError):
    """A temperature outside the range that the formulas of water hold for, or far from that of its blank."""


class MassOutOfRangeError(DistributionError):
    """A portion mass outside anything a cylinder can take."""


class MoistureNegativeError(DistributionError):
    """A moisture below zero: air-dry soil cannot weigh less than oven-dry soil."""


class DensityOutOfRangeError(DistributionError):
    """A particle density that no soil has."""


class PycnometerError(DistributionError):
    """Weighings of a pycnometer that give no particle density."""


class VolumeOutOfRangeError(DistributionError):
    """A volume that no sedimentation cylinder holds."""


class DispersantOutOfRangeError(DistributionError):
    """A dispersant concentration below zero or far above what the formulas cover."""


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
    """Sieve openings that do not fall from sieve to sieve."""


class GravelOutOfRangeError(DistributionError):
    """A gravel content that is no share of the whole sample."""


class InstrumentOutOfRangeError(DistributionError):
    """A depth calibration, meniscus or scale that no hydrometer has."""


class SieveMassNegativeError(DistributionError):
    """A negative mass on a sieve or in the pan."""


class DrawsTooFewError(DistributionError):
    """A number of draws that is neither zero nor enough for an interval."""


class DrawsTooManyError(DistributionError):
    """A number of draws that costs memory and tells nothing more."""


class DrawsContradictError(DistributionError):
    """Both a fixed number of draws and digits to draw until."""


class DigitsOutOfRangeError(DistributionError):
    """A number of digits that the adaptive number of draws cannot settle."""


class DuplicatesTooFewError(DistributionError):
    """Fewer pairs of runs than a standard deviation needs."""


class BetweenRunSpreadOutOfRangeError(DistributionError):
    """A between-run standard deviation no laboratory has."""


class UnknownMethodError(DistributionError):
    """A code that no method edition has."""


class EditionError(DistributionError):
    """A method edition that contradicts itself."""


class UnknownTextureError(DistributionError):
    """A texture system, class or set of fractions that there is not."""
