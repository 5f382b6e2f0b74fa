"""Addresses from which mail comes back: noted by the mail server or by a person, cleared by a person.

To a dead address nothing is claimed. Another address of the same customer is free; the old one stays dead.
"""

import datetime as dt

from django.db import IntegrityError, transaction

from nursery import audit, querysets
from nursery.models import DeadAddress, Party, Person
from nursery.refusals import Refused

CAME_BACK = "Mail came back"
LONGEST = 500


@transaction.atomic
def note_dead(*, address: str, said: str, at: dt.datetime, by: Person | None) -> DeadAddress:
    """Mail to the address comes back; `by` is None when the mail server said so. Noted before, it stays as it was.

    Raises Refused("nobodys") when a person names an address that nobody here has.
    """
    address = address.strip().lower()
    if by is not None:
        _refuse_nobodys(address)
    known = querysets.dead_addresses().filter(address=address).first()
    if known is not None:
        return known
    try:
        with transaction.atomic():
            dead = DeadAddress.objects.create(
                address=address, since_at=at, said=said.strip()[:LONGEST] or CAME_BACK, noted_by=by
            )
    except IntegrityError:  # another worker has just heard the same
        return querysets.dead_addresses().get(address=address)
    audit.record(by=by, at=at, verb="noted that mail comes back", subject=dead, reason=dead.said)
    return dead


@transaction.atomic
def clear_dead(*, dead: DeadAddress, at: dt.datetime, by: Person) -> DeadAddress:
    """Mail reaches the address again: what waits for it goes the next time it is due."""
    dead = DeadAddress.objects.select_for_update(no_key=True).get(pk=dead.pk)
    if dead.cleared_at is not None:
        raise Refused("cleared", f"{dead.address} is free already: mail goes to it.")
    dead.cleared_at, dead.cleared_by = at, by
    dead.save(update_fields=["cleared_at", "cleared_by"])
    audit.record(by=by, at=at, verb="noted that mail arrives again", subject=dead)
    return dead


def _refuse_nobodys(address: str) -> None:
    customers = Party.objects.filter(email__iexact=address)
    if address and (customers.exists() or Person.objects.filter(email__iexact=address).exists()):
        return
    raise Refused(
        "nobodys", "No customer and nobody at work has this address: open the page of whose it is.", "address"
    )
