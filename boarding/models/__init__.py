"""Custody and what was seen."""

from boarding.models.agreements import Agreement, Signature, TermsText, Visit
from boarding.models.classes import ClassChange
from boarding.models.handback import Handback, Hold
from boarding.models.health import Finding, Look, StandingRow
from boarding.models.places import Occupancy, ZoneOverride
from boarding.models.reports import ConditionReport, PartGrade, Photo
from boarding.models.stays import Absence, BroughtThing, CollectionNotice, FreeNight, Stay

__all__ = [
    "Absence",
    "Agreement",
    "BroughtThing",
    "ClassChange",
    "CollectionNotice",
    "ConditionReport",
    "Finding",
    "FreeNight",
    "Handback",
    "Hold",
    "Look",
    "Occupancy",
    "PartGrade",
    "Photo",
    "Signature",
    "StandingRow",
    "Stay",
    "TermsText",
    "Visit",
    "ZoneOverride",
]
