"""What is done: activities, clocks, materials, due items, reminders, the care ledger, handback papers."""

from care.models.activities import Activity, Material
from care.models.contacts import ContactCase, ContactTree
from care.models.due import DueItem, Retreatment
from care.models.ledger import LedgerEntry, MaterialUse, fact_of
from care.models.papers import Certificate, CertificateWithdrawal, HandbackReport
from care.models.reminders import Reminder, ReminderMail
from care.models.time import Pause, TimeEntry

__all__ = [
    "Activity",
    "Certificate",
    "CertificateWithdrawal",
    "ContactCase",
    "ContactTree",
    "DueItem",
    "HandbackReport",
    "LedgerEntry",
    "Material",
    "MaterialUse",
    "Pause",
    "Reminder",
    "ReminderMail",
    "Retreatment",
    "TimeEntry",
    "fact_of",
]
