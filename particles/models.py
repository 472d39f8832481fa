"""The index of models that Django looks for; each stands in its station."""

from particles.clients.models import Client, ClientPerson
from particles.corrections.models import Correction
from particles.laboratory.models import Laboratory
from particles.methods.models import MethodEditionRecord
from particles.permits.models import RegulatedArea
from particles.portions.models import Portion
from particles.preparation.models import Preparation, PretreatmentDecision
from particles.receiving.models import Job, Sample, SampleMove, SampleState
from particles.records.numbers import NumberSeries
from particles.reference_soils.models import ReferenceSoil, ReferenceSoilUsedUp

__all__ = [
    "Client",
    "ClientPerson",
    "Correction",
    "Job",
    "Laboratory",
    "MethodEditionRecord",
    "NumberSeries",
    "Portion",
    "Preparation",
    "PretreatmentDecision",
    "ReferenceSoil",
    "ReferenceSoilUsedUp",
    "RegulatedArea",
    "Sample",
    "SampleMove",
    "SampleState",
]
