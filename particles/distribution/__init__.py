"""
Particle-size distribution from hydrometer readings and sieves: arithmetic only.

One call does it: `compute_distribution(record, method)`. Needs the standard library and numpy, nothing else.
"""

from .compute import ENGINE_VERSION, compute_distribution, record_digest
from .curve import Grading, grading
from .errors import DistributionError
from .fractions import round_to_total
from .methods import DEFAULT_METHOD_CODE, METHOD_EDITIONS, InputUncertainties, MethodEdition, method_edition
from .plain import (
    edition_from_plain,
    edition_to_plain,
    from_plain,
    record_from_plain,
    record_to_plain,
    to_plain,
)
from .quantities import (
    Correction,
    CurvePoint,
    DepthLine,
    DepthTable,
    Estimate,
    Finding,
    Fractions,
    Hydrometer,
    HydrometerScale,
    NamedReading,
    ReadingPoint,
    ReadingState,
    RunRecord,
    Severity,
    SieveMass,
    Sieving,
    SizeDistribution,
    SizePoint,
    TemperatureLine,
    TextureClass,
)
from .texture import USDA_CLASSES, USDA_POLYGONS, usda_class

__all__ = [
    "DEFAULT_METHOD_CODE",
    "ENGINE_VERSION",
    "METHOD_EDITIONS",
    "USDA_CLASSES",
    "USDA_POLYGONS",
    "Correction",
    "CurvePoint",
    "DepthLine",
    "DepthTable",
    "DistributionError",
    "Estimate",
    "Finding",
    "Fractions",
    "Grading",
    "Hydrometer",
    "HydrometerScale",
    "InputUncertainties",
    "MethodEdition",
    "NamedReading",
    "ReadingPoint",
    "ReadingState",
    "RunRecord",
    "Severity",
    "SieveMass",
    "Sieving",
    "SizeDistribution",
    "SizePoint",
    "TemperatureLine",
    "TextureClass",
    "compute_distribution",
    "edition_from_plain",
    "edition_to_plain",
    "from_plain",
    "grading",
    "method_edition",
    "record_digest",
    "record_from_plain",
    "record_to_plain",
    "round_to_total",
    "to_plain",
    "usda_class",
]
