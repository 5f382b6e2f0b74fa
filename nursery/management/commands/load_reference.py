"""What every nursery begins with: pests, kinds of work, programmes, VAT keys. Nothing that is there is overwritten."""

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import transaction

from care.actions.programmes import load_programmes
from care.models import Activity
from nursery.models import Organism, VatRate

FIXTURES = Path(settings.BASE_DIR) / "fixtures"


class Command(BaseCommand):
    help = "Adds pests, kinds of work, programmes and VAT keys that are not there yet; what is there stays as it is."

    def handle(self, **options: Any) -> None:
        added = load()
        if added:
            self.stdout.write(f"Added {added} rows of reference: pests, kinds of work, programmes, VAT keys.")


@transaction.atomic
def load() -> int:
    """Add what is missing by its natural key; returns how many rows were added."""
    added = 0
    for told in _read("organisms.json")["organisms"]:
        added += Organism.objects.get_or_create(common_name=told["common_name"], defaults=told)[1]
    for told in _read("activities.json")["activities"]:
        added += Activity.objects.get_or_create(code=told["code"], defaults=told)[1]
    added += load_programmes()
    for row in _read("vat_rates.json"):
        told = row["fields"]
        key = {"key": told["key"], "valid_from": told["valid_from"]}
        added += VatRate.objects.get_or_create(**key, defaults=told)[1]
    return added


def _read(name: str) -> Any:
    return json.loads((FIXTURES / name).read_text(encoding="utf-8"))
