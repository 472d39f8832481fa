from batches.models.batch import Batch, BatchMove, BatchState
from batches.models.entry import Entry, EntryVerdict
from batches.models.equipment import Balance, Cylinder, DispersantLot, HydrometerRecord, Thermometer
from batches.models.pair import PairReview
from batches.models.reading import Reading
from batches.models.result import ComputationRequest, Flag, FlagReview, RequestState, Result, RunDecision
from batches.models.run import Run, RunStart, Source
from batches.models.weighing import Purpose, SieveMass, Weighing

__all__ = [
    "Balance",
    "Batch",
    "BatchMove",
    "BatchState",
    "ComputationRequest",
    "Cylinder",
    "DispersantLot",
    "Entry",
    "EntryVerdict",
    "Flag",
    "FlagReview",
    "HydrometerRecord",
    "PairReview",
    "Purpose",
    "Reading",
    "RequestState",
    "Result",
    "Run",
    "RunDecision",
    "RunStart",
    "SieveMass",
    "Source",
    "Thermometer",
    "Weighing",
]
