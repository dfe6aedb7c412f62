"""The animal, what was found, what was done."""

from horses.models.conformation import Conformation, ConsiderationChoice
from horses.models.horse import DueWindow, Horse, Ownership, Payer
from horses.models.interval import HorseInterval, IntervalLimits, IntervalSettings
from horses.models.photo import Landmark, Photo
from horses.models.plan import FootPlan
from horses.models.sheet import ReadRow, SheetImport
from horses.models.visit import (
    Finding,
    FootRecord,
    Shoe,
    Visit,
    VisitRecord,
)
from horses.models.work import Work

__all__ = [
    "Conformation",
    "ConsiderationChoice",
    "DueWindow",
    "Finding",
    "FootPlan",
    "FootRecord",
    "Horse",
    "HorseInterval",
    "IntervalLimits",
    "IntervalSettings",
    "Landmark",
    "Ownership",
    "Payer",
    "Photo",
    "ReadRow",
    "SheetImport",
    "Shoe",
    "Visit",
    "VisitRecord",
    "Work",
]
