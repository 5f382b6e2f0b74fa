"""The floor's tables. Every other app may read them; only actions write what has a history."""

from nursery.models.audit import AuditRow
from nursery.models.benches import Bench, Zone
from nursery.models.files import KeptFile
from nursery.models.jobs import Job
from nursery.models.mails import DeadAddress, HandedMail, PaperMail
from nursery.models.papers import Paper, PaperFile
from nursery.models.parties import Consent, HeirProof, Party, PartyAddress, PartyKind, PartyLink, Question
from nursery.models.people import Person, Role
from nursery.models.pests import Host, Organism
from nursery.models.place import Nursery
from nursery.models.press import Press
from nursery.models.rates import ClassRate, FixedRate, LabourRate, RateCard, RateGroup, VatRate
from nursery.models.series import NumberSeries
from nursery.models.taxa import Taxon
from nursery.models.trees import Ownership, Tag, Tree

__all__ = [
    "AuditRow",
    "Bench",
    "ClassRate",
    "Consent",
    "DeadAddress",
    "HandedMail",
    "HeirProof",
    "Host",
    "FixedRate",
    "Job",
    "KeptFile",
    "LabourRate",
    "NumberSeries",
    "Nursery",
    "Organism",
    "Ownership",
    "Paper",
    "PaperFile",
    "PaperMail",
    "Party",
    "PartyAddress",
    "PartyKind",
    "PartyLink",
    "Person",
    "Press",
    "Question",
    "RateCard",
    "RateGroup",
    "Role",
    "Tag",
    "Taxon",
    "Tree",
    "VatRate",
    "Zone",
]
