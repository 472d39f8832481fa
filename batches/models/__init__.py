from batches.models.batch import Batch, BatchMove, BatchState
from batches.models.entry import Entry, EntryVerdict
from batches.models.equipment import Balance, Cylinder, DispersantLot, HydrometerRecord, Thermometer
from batches.models.pair import PairReview
from batches.models.reading import Reading, TimeDoubt
from batches.models.replunge import Replunge
from batches.models.result import ComputationRequest, Flag, FlagReview, RequestState, Result, RunDecision
from batches.models.run import Run, RunStart, Source
from batches.models.seen import Observation, RunVoid, VoidLifted
from batches.models.superseding import DensityCorrection, FillingCorrection
from batches.models.taken_out import TakenOut
from batches.models.weighing import Purpose, SieveMass, Weighing

__all__ = [
    "Balance",
    "Batch",
    "BatchMove",
    "BatchState",
    "ComputationRequest",
    "Cylinder",
    "DensityCorrection",
    "DispersantLot",
    "Entry",
    "EntryVerdict",
    "FillingCorrection",
    "Flag",
    "FlagReview",
    "HydrometerRecord",
    "Observation",
    "PairReview",
    "Purpose",
    "Reading",
    "Replunge",
    "RequestState",
    "Result",
    "Run",
    "RunDecision",
    "RunStart",
    "RunVoid",
    "SieveMass",
    "Source",
    "TakenOut",
    "Thermometer",
    "TimeDoubt",
    "VoidLifted",
    "Weighing",
]
