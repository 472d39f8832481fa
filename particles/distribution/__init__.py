"""
Particle-size distribution from hydrometer readings and sieves: arithmetic only.

One call does it: `compute_distribution(record, method)`; `explain` takes one run apart, `portion_advice` and
`next_reading_advice` look ahead. Needs the standard library and numpy, nothing else.
"""

from .advice import PortionAdvice, PortionCandidate, portion_advice
from .batch_checks import BatchFinding, BatchRun, batch_findings
from .between_run import between_run_sd_from_duplicates
from .budget import Contribution, UncertaintyBudget, uncertainty_budget
from .compute import ENGINE_VERSION, compute_distribution, record_digest
from .curve import Grading, grading, percent_finer_at_size
from .edition_check import validate_edition
from .errors import DistributionError, EditionError
from .explain import ExplainedReading, Explanation, StepEffect, explain
from .fractions import round_to_total
from .geometry import effective_depth_line, insertion_displacement_cm
from .imported import imported_fractions_findings
from .limits import QualityLimits
from .methods import (
    DEFAULT_METHOD_CODE,
    METHOD_EDITIONS,
    InputUncertainties,
    MethodEdition,
    method_edition,
)
from .next_reading import NextReading, next_reading_advice
from .other_textures import parts_at
from .pipette import PIPETTE_EDITIONS, PipetteEdition
from .plain import (
    edition_from_plain,
    edition_to_plain,
    from_plain,
    record_from_plain,
    record_to_plain,
    to_plain,
)
from .portion import mass_findings, moisture_findings
from .portion_apart import portion_apart_findings
from .quantities import (
    ClayExtrapolation,
    Correction,
    CurvePoint,
    DepthLine,
    DepthTable,
    Estimate,
    Finding,
    Fractions,
    Hydrometer,
    HydrometerScale,
    Interpolation,
    NamedReading,
    ReadingPoint,
    ReadingState,
    RunRecord,
    SandFraction,
    Seen,
    Severity,
    SieveMass,
    Sieving,
    Sight,
    SizeDistribution,
    SizePoint,
    TemperatureLine,
    TextureClass,
)
from .refusals import MASS_POSSIBLE_G
from .seen import seen_findings
from .sieving import sieve_balance_g
from .subclasses import texture_subclass
from .systems import (
    TEXTURE_SYSTEMS,
    TextureSystem,
    classify,
    texture_of,
    texture_system,
)
from .texture import USDA_CLASSES, USDA_POLYGONS, usda_class

__all__ = [
    "DEFAULT_METHOD_CODE",
    "ENGINE_VERSION",
    "MASS_POSSIBLE_G",
    "METHOD_EDITIONS",
    "PIPETTE_EDITIONS",
    "TEXTURE_SYSTEMS",
    "USDA_CLASSES",
    "USDA_POLYGONS",
    "BatchFinding",
    "BatchRun",
    "ClayExtrapolation",
    "Contribution",
    "Correction",
    "CurvePoint",
    "DepthLine",
    "DepthTable",
    "DistributionError",
    "EditionError",
    "Estimate",
    "ExplainedReading",
    "Explanation",
    "Finding",
    "Fractions",
    "Grading",
    "Hydrometer",
    "HydrometerScale",
    "InputUncertainties",
    "Interpolation",
    "MethodEdition",
    "NamedReading",
    "NextReading",
    "PipetteEdition",
    "PortionAdvice",
    "PortionCandidate",
    "QualityLimits",
    "ReadingPoint",
    "ReadingState",
    "RunRecord",
    "SandFraction",
    "Seen",
    "Severity",
    "SieveMass",
    "Sieving",
    "Sight",
    "SizeDistribution",
    "SizePoint",
    "StepEffect",
    "TemperatureLine",
    "TextureClass",
    "TextureSystem",
    "UncertaintyBudget",
    "batch_findings",
    "between_run_sd_from_duplicates",
    "classify",
    "compute_distribution",
    "edition_from_plain",
    "edition_to_plain",
    "effective_depth_line",
    "explain",
    "from_plain",
    "grading",
    "imported_fractions_findings",
    "insertion_displacement_cm",
    "mass_findings",
    "method_edition",
    "moisture_findings",
    "next_reading_advice",
    "parts_at",
    "percent_finer_at_size",
    "portion_advice",
    "portion_apart_findings",
    "record_digest",
    "record_from_plain",
    "record_to_plain",
    "round_to_total",
    "seen_findings",
    "sieve_balance_g",
    "texture_of",
    "texture_subclass",
    "texture_system",
    "to_plain",
    "uncertainty_budget",
    "usda_class",
    "validate_edition",
]
