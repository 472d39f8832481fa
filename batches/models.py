"""The index of models that Django looks for; each stands in its station."""

from batches.balance.models import Purpose, SieveMass, Weighing
from batches.bench.models import BlankReading, HandedIn, Observation, Reading, Replunge, RunStart, TimeDoubt
from batches.causes.models import CauseAnswer, CauseList
from batches.computing.models import ComputationRequest, Flag, RequestState, Result
from batches.corrections.models import DensityCorrection, FillingCorrection, MassCorrection
from batches.entries.models import Entry, EntryVerdict
from batches.equipment.models import Balance, Cylinder, DispersantLot, HydrometerRecord, Thermometer
from batches.exchanging.models import Exchange, ExchangeUndone, LeftOut, LeftOutLifted
from batches.limits.models import LimitsVersion, PointAnswer
from batches.nonconforming.models import NonconformingWork
from batches.planning.models import Batch, BatchMove, BatchState, Run, Source, TakenOut
from batches.proficiency.models import (
    AssignedValue,
    Round,
    RoundLock,
    RoundSample,
    RoundSampleTakenBack,
    ScoreAnswer,
)
from batches.quality.models import PairReview
from batches.readers.models import SecondReading
from batches.review.models import Approval, FlagReview, LastLook, QualityLook, RunDecision
from batches.timetables.models import (
    BatchOfDay,
    BenchDay,
    CalendarAddress,
    FoundTimetable,
    KeptTimetable,
)
from batches.voiding.models import RunVoid, VoidLifted

__all__ = [
    "Approval",
    "AssignedValue",
    "Balance",
    "Batch",
    "BatchMove",
    "BatchOfDay",
    "BatchState",
    "BenchDay",
    "BlankReading",
    "CalendarAddress",
    "CauseAnswer",
    "CauseList",
    "ComputationRequest",
    "Cylinder",
    "DensityCorrection",
    "DispersantLot",
    "Entry",
    "EntryVerdict",
    "Exchange",
    "ExchangeUndone",
    "FillingCorrection",
    "Flag",
    "FlagReview",
    "FoundTimetable",
    "HandedIn",
    "HydrometerRecord",
    "KeptTimetable",
    "LastLook",
    "LeftOut",
    "LeftOutLifted",
    "LimitsVersion",
    "MassCorrection",
    "NonconformingWork",
    "Observation",
    "PairReview",
    "PointAnswer",
    "Purpose",
    "QualityLook",
    "Reading",
    "Replunge",
    "RequestState",
    "Result",
    "Round",
    "RoundLock",
    "RoundSample",
    "RoundSampleTakenBack",
    "Run",
    "RunDecision",
    "RunStart",
    "RunVoid",
    "ScoreAnswer",
    "SecondReading",
    "SieveMass",
    "Source",
    "TakenOut",
    "Thermometer",
    "TimeDoubt",
    "VoidLifted",
    "Weighing",
]
