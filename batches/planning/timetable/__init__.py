"""When each cylinder is started and read, so that no pair of hands does two things at once; pure, no database."""

from batches.planning.timetable.day import (
    PACES,
    Act,
    Day,
    Doing,
    Hands,
    NotPlaced,
    Person,
    Rack,
    Slide,
    Timetable,
    blank_within_of,
    blank_within_s,
)
from batches.planning.timetable.first_fit import first_timetable
from batches.planning.timetable.search import better_timetables

__all__ = [
    "PACES",
    "Act",
    "Day",
    "Doing",
    "Hands",
    "NotPlaced",
    "Person",
    "Rack",
    "Slide",
    "Timetable",
    "better_timetables",
    "blank_within_of",
    "blank_within_s",
    "first_timetable",
]
