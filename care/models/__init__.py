"""What is done: activities, clocks, materials, due items, reminders, the care ledger, handback papers."""

from care.models.activities import Activity, Material
from care.models.due import DueItem, Retreatment
from care.models.feeds import CalendarFeed
from care.models.hours import OtherHours, UsualHours
from care.models.ledger import LedgerEntry, MaterialUse, fact_of
from care.models.papers import Certificate, CertificateWithdrawal, HandbackReport
from care.models.reminders import Reminder, ReminderMail
from care.models.time import Pause, TimeEntry

__all__ = [
    "Activity",
    "CalendarFeed",
    "Certificate",
    "CertificateWithdrawal",
    "DueItem",
    "HandbackReport",
    "LedgerEntry",
    "Material",
    "MaterialUse",
    "OtherHours",
    "Pause",
    "Reminder",
    "ReminderMail",
    "Retreatment",
    "TimeEntry",
    "UsualHours",
    "fact_of",
]
