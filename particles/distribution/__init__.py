"""
Particle-size distribution from hydrometer readings and sieves: arithmetic only.

One call does it: `compute_distribution(record, method)`; `explain` shows what each step of a run does,
`portion_advice` and `next_reading_advice` look ahead. Needs the standard library and numpy, nothing else.
"""

from particles.distribution.advice.next_reading import NextReading, next_reading_advice
from particles.distribution.advice.portion import PortionAdvice, PortionCandidate, portion_advice
from particles.distribution.advice.portion_apart import portion_apart_findings
from particles.distribution.answer import (
    CurvePoint,
    Estimate,
    Finding,
    Fractions,
    NamedReading,
    SandFraction,
    Severity,
    SizeDistribution,
    SizePoint,
    TextureClass,
)
from particles.distribution.compute import ENGINE_VERSION, compute_distribution, record_digest
from particles.distribution.curve.fractions import round_to_total
from particles.distribution.curve.other_systems import parts_at
from particles.distribution.curve.reading_off import Grading, grading, percent_finer_at_size
from particles.distribution.errors import DistributionError, EditionError
from particles.distribution.explained.corrections import ExplainedReading, Explanation, StepEffect, explain
from particles.distribution.findings.catalogue import CATALOGUE, client_words, finding
from particles.distribution.findings.portion import mass_findings, moisture_findings
from particles.distribution.findings.seen import seen_findings
from particles.distribution.findings.sieves import sieving_findings
from particles.distribution.inputs.between_run import between_run_sd_from_duplicates
from particles.distribution.inputs.blank_series import blank_step
from particles.distribution.method.check import validate_edition
from particles.distribution.method.edition import InputUncertainties, MethodEdition
from particles.distribution.method.limits import QualityLimits
from particles.distribution.method.shipped import DEFAULT_METHOD_CODE, METHOD_EDITIONS, method_edition
from particles.distribution.neighbours.batch import BatchFinding, BatchRun, batch_findings
from particles.distribution.plain import (
    edition_from_plain,
    edition_to_plain,
    from_plain,
    record_from_plain,
    record_to_plain,
    to_plain,
)
from particles.distribution.possible import MASS_POSSIBLE_G
from particles.distribution.record import (
    BlankReading,
    ClayExtrapolation,
    Correction,
    DepthLine,
    DepthTable,
    Hydrometer,
    HydrometerScale,
    Interpolation,
    Pycnometer,
    ReadingPoint,
    ReadingState,
    RunRecord,
    Seen,
    SieveMass,
    Sieving,
    Sight,
    TemperatureLine,
)
from particles.distribution.settling.geometry import effective_depth_line, insertion_displacement_cm
from particles.distribution.settling.pipette import PIPETTE_EDITIONS, PipetteEdition
from particles.distribution.sieves.stack import sieve_balance_g
from particles.distribution.texture.corners import USDA_POLYGONS
from particles.distribution.texture.subclasses import texture_subclass
from particles.distribution.texture.systems import (
    TEXTURE_SYSTEMS,
    TextureSystem,
    classify,
    texture_of,
    texture_system,
)
from particles.distribution.texture.usda import USDA_CLASSES, usda_class
from particles.distribution.triple import SandSiltClay
from particles.distribution.uncertainty.budget import Contribution, UncertaintyBudget, uncertainty_budget
from particles.distribution.uncertainty.detection import Detection, detection_of

__all__ = [
    "CATALOGUE",
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
    "BlankReading",
    "ClayExtrapolation",
    "Contribution",
    "Correction",
    "CurvePoint",
    "DepthLine",
    "DepthTable",
    "Detection",
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
    "Pycnometer",
    "QualityLimits",
    "ReadingPoint",
    "ReadingState",
    "RunRecord",
    "SandFraction",
    "SandSiltClay",
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
    "blank_step",
    "classify",
    "client_words",
    "compute_distribution",
    "detection_of",
    "edition_from_plain",
    "edition_to_plain",
    "effective_depth_line",
    "explain",
    "finding",
    "from_plain",
    "grading",
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
    "sieving_findings",
    "texture_of",
    "texture_subclass",
    "texture_system",
    "to_plain",
    "uncertainty_budget",
    "usda_class",
    "validate_edition",
]
