from particles.models.client import Client, ClientPerson, RegulatedArea
from particles.models.correction import Correction
from particles.models.edition import MethodEditionRecord
from particles.models.job import Job, NumberSeries
from particles.models.laboratory import Laboratory
from particles.models.portion import Portion, PretreatmentDecision
from particles.models.preparation import Preparation
from particles.models.sample import Sample, SampleMove, SampleState

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
    "RegulatedArea",
    "Sample",
    "SampleMove",
    "SampleState",
]
