"""What may a first rate card begin with? The sample card: an invented nursery's prices, made to be changed."""

import json
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings

SAMPLE = Path(settings.BASE_DIR) / "fixtures" / "rate_card_r1.json"
OF_A_CLASS = ("night_net", "week_net", "month_net", "least_net", "pack_net", "winter_net")


def sample_prices() -> dict[str, Decimal]:
    """Net amounts by the name a price has on a card: {"class_2_night_net": 1.20, "labour_scrub": 42.00, ...}."""
    rows = json.loads(SAMPLE.read_text(encoding="utf-8"))
    return {name: Decimal(amount) for row in rows for name, amount in _prices_in(row["model"], row["fields"])}


def _prices_in(model: str, fields: dict[str, Any]) -> Iterator[tuple[str, str]]:
    if model == "nursery.classrate":
        yield from ((f"class_{fields['size_class']}_{column}", fields[column]) for column in OF_A_CLASS)
    elif model == "nursery.labourrate":
        yield f"labour_{fields['group']}", fields["hour_net"]
    elif model == "nursery.fixedrate":
        yield f"fixed_{fields['kind']}", fields["amount"]
