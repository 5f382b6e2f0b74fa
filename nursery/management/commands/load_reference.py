"""What every nursery begins with: pests, hosts, figures, programmes, notes, work, VAT keys. Nothing is overwritten."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import transaction

from care.actions.programmes import load_programmes
from care.models import Activity, CareNote, Threshold
from nursery.models import Host, Organism, VatRate

FIXTURES = Path(settings.BASE_DIR) / "fixtures"


class Command(BaseCommand):
    help = "Adds the rows of reference that are not there yet; what is there stays as it is."

    def handle(self, **options: Any) -> None:
        added = load()
        if added:
            what = "pests, hosts, figures, programmes, care notes, kinds of work, VAT keys"
            self.stdout.write(f"Added {added} rows of reference: {what}.")


@transaction.atomic
def load() -> int:
    """Add what is missing by its natural key; returns how many rows were added."""
    pests, added = _pests(_read("organisms.json")["organisms"])
    added += _hosts(_read("hosts.json")["hosts"], pests)
    added += _thresholds(_read("thresholds.json")["thresholds"], pests)
    added += _notes(_read("care_notes.json")["notes"])
    for told in _read("activities.json")["activities"]:
        added += Activity.objects.get_or_create(code=told["code"], defaults=told)[1]
    added += load_programmes()
    for row in _read("vat_rates.json"):
        told = row["fields"]
        key = {"key": told["key"], "valid_from": told["valid_from"]}
        added += VatRate.objects.get_or_create(**key, defaults=told)[1]
    return added


def _pests(listed: Iterable[dict[str, Any]]) -> tuple[dict[str, Organism], int]:
    """Every pest by each name it is published under, and how many were new. One that was renamed here is found too."""
    there = {pest.scientific_name or pest.common_name: pest for pest in Organism.objects.all()}
    there |= {pest.common_name: pest for pest in Organism.objects.all()}
    by_name: dict[str, Organism] = {}
    added = 0
    for row in listed:
        told = dict(row)
        also = told.pop("also_called", [])
        keys = [told["scientific_name"], told["common_name"], *also]
        pest = next((there[key] for key in keys if key in there), None)
        if pest is None:
            pest, added = Organism.objects.create(**told), added + 1
        by_name |= dict.fromkeys([told["common_name"], *also], pest)
    return by_name, added


def _hosts(listed: Iterable[dict[str, Any]], pests: dict[str, Organism]) -> int:
    there = set(Host.objects.values_list("organism_id", "genus", "publisher"))
    rows = [Host(**told | {"organism": pests[told["organism"]]}) for told in listed]
    new = [row for row in rows if (row.organism_id, row.genus, row.publisher) not in there]
    return len(Host.objects.bulk_create(new))


def _thresholds(listed: Iterable[dict[str, Any]], pests: dict[str, Organism]) -> int:
    there = set(Threshold.objects.values_list("row", flat=True))
    new = [
        Threshold(**told | {"organism": pests[told["organism"]]})
        for told in listed
        if told["row"] not in there
    ]
    return len(Threshold.objects.bulk_create(new))


def _notes(listed: Iterable[dict[str, Any]]) -> int:
    there = set(CareNote.objects.values_list("code", flat=True))
    return len(CareNote.objects.bulk_create(CareNote(**told) for told in listed if told["code"] not in there))


def _read(name: str) -> Any:
    return json.loads((FIXTURES / name).read_text(encoding="utf-8"))
