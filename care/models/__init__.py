"""What is done: activities, clocks, materials, due items, reminders, the care ledger, handback papers."""

from care.models.activities import Activity, Material
from care.models.due import DueItem, Retreatment
from care.models.ledger import LedgerEntry, MaterialUse, fact_of
from care.models.notes import CareNote
from care.models.papers import Certificate, CertificateWithdrawal, HandbackReport
from care.models.reminders import Reminder, ReminderMail
from care.models.thresholds import DegreeMethod, DegreeUnit, HeldFigure, Threshold
from care.models.time import Pause, TimeEntry

__all__ = [
    "Activity",
    "CareNote",
    "Certificate",
    "CertificateWithdrawal",
    "DegreeMethod",
    "DegreeUnit",
    "DueItem",
    "HandbackReport",
    "HeldFigure",
    "LedgerEntry",
    "Material",
    "MaterialUse",
    "Pause",
    "Reminder",
    "ReminderMail",
    "Retreatment",
    "Threshold",
    "TimeEntry",
    "fact_of",
]
