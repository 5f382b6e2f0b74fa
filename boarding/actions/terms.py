"""Versions of the terms of keeping: written once, signed as they stand."""

import datetime as dt
from pathlib import Path

from django.conf import settings
from django.db import transaction

from boarding.models import TermsText
from nursery import audit
from nursery.models import Person
from nursery.refusals import Refused

SAMPLE = "Sample 1"


@transaction.atomic
def write_terms(
    *,
    version: str,
    valid_from: dt.date,
    text: str,
    at: dt.datetime,
    by: Person,
    is_sample: bool = False,
    approved_note: str = "",
) -> TermsText:
    """Add a version. Refused: "version-used"; an agreement keeps the version it was signed with."""
    if TermsText.objects.filter(version=version).exists():
        raise Refused(
            "version-used", f"There are terms {version} already: give these another name.", field="version"
        )
    terms = TermsText.objects.create(
        version=version, valid_from=valid_from, text=text, is_sample=is_sample, approved_note=approved_note
    )
    audit.record(by=by, at=at, verb="wrote terms of keeping", subject=terms, after={"valid_from": valid_from})
    return terms


def take_sample_terms(*, on: dt.date, at: dt.datetime, by: Person) -> TermsText:
    """Begin with the sample terms, which a lawyer must approve before use; taking them twice changes nothing."""
    known = TermsText.objects.filter(version=SAMPLE).first()
    if known is not None:
        return known
    text = (Path(settings.BASE_DIR) / "fixtures" / "terms_sample.txt").read_text(encoding="utf-8")
    return write_terms(version=SAMPLE, valid_from=on, text=text, is_sample=True, at=at, by=by)
