"""What is done: activities, clocks, materials, due items, reminders, the care ledger, handback papers."""

from care.models.activities import Activity, Material
from care.models.contacts import ContactCase, ContactTree
from care.models.due import DueItem, DueMove, Retreatment
from care.models.feeds import CalendarFeed
from care.models.hours import OtherHours, UsualHours
from care.models.ledger import LedgerEntry, MaterialUse, fact_of
from care.models.notes import CareNote
from care.models.papers import Certificate, CertificateWithdrawal, HandbackReport
from care.models.plans import Plan, PlanStep
from care.models.programmes import (
    MEANS_OF,
    MECHANICAL,
    SPRAYS,
    WORK_OF,
    Programme,
    ProgrammeStep,
    StepKind,
    Waits,
)
from care.models.reminders import CustomerNotice, Reminder, ReminderMail, ToldTreatment
from care.models.thresholds import DegreeMethod, DegreeUnit, HeldFigure, Threshold
from care.models.time import Pause, TimeEntry
from care.models.weather import BenchThermometer, ClimateMonth, Thermometer, WeatherDay, WeatherFile

__all__ = [
    "Activity",
    "BenchThermometer",
    "CalendarFeed",
    "CareNote",
    "Certificate",
    "CertificateWithdrawal",
    "ClimateMonth",
    "ContactCase",
    "ContactTree",
    "CustomerNotice",
    "DegreeMethod",
    "DegreeUnit",
    "DueItem",
    "DueMove",
    "HandbackReport",
    "HeldFigure",
    "LedgerEntry",
    "MEANS_OF",
    "MECHANICAL",
    "Material",
    "MaterialUse",
    "OtherHours",
    "Pause",
    "Plan",
    "PlanStep",
    "Programme",
    "ProgrammeStep",
    "Reminder",
    "ReminderMail",
    "Retreatment",
    "SPRAYS",
    "StepKind",
    "Thermometer",
    "Threshold",
    "TimeEntry",
    "ToldTreatment",
    "UsualHours",
    "WORK_OF",
    "Waits",
    "WeatherDay",
    "WeatherFile",
    "fact_of",
]
