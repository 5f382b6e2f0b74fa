"""What was agreed, by two at once: one answer is kept, and two payers never bill more than the cap of their one job."""

import datetime as dt
from decimal import Decimal

import pytest

from invoicing.actions.answers import answer
from invoicing.actions.drafts import draw_up
from invoicing.actions.issue import issue
from invoicing.models import EstimateVersion, InvoiceLine
from nursery.models import Consent
from tests.estimate_scenes import accepted, offered, works
from tests.factories import PersonFactory
from tests.factories_invoicing import EntryFactory, StayFactory, a_customer, a_tree_of, at
from tests.services.test_issue_together import together

pytestmark = pytest.mark.django_db(transaction=True)
JUNE_30, NOON = dt.date(2026, 6, 30), at(30, 11)


def test_two_people_write_down_one_answer():
    payer, by = a_customer(), PersonFactory(office=True)
    version = offered(StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412")), by)
    told = {"version": version, "party": payer, "way": "phone", "said_at": at(4), "at": at(4), "by": by}
    given = together(
        *(lambda: answer(yes=True, **told).state for _ in range(2)), lambda: answer(yes=False, **told).state
    )
    kept = EstimateVersion.objects.get()
    assert (given.count(kept.state), kept.consent) == (1, Consent.objects.get(question="cap"))
    assert [one for one in given if one != kept.state] == [f"not-{kept.state}"] * 2


def test_two_payers_billed_for_one_capped_job_at_once_stay_below_its_cap():
    """140.00 and 70.00 of work under 150.00: each payer's part is reckoned from the whole job, whoever issues first."""
    owner, friend, by = a_customer(), a_customer("Cormac Delahide"), PersonFactory(office=True)
    stay = StayFactory(owner=owner, tree=a_tree_of(owner, "DN0412"))
    accepted(stay, by)
    EntryFactory(stay=stay, activity=works()["scrub"], quantity=200)
    EntryFactory(
        stay=stay,
        activity=works()["jet"],
        quantity=100,
        payer=friend,
        day=dt.date(2026, 6, 5),
        tree=stay.tree,
    )
    drafts = [draw_up(payer=payer, up_to_on=JUNE_30, at=NOON, by=by) for payer in (owner, friend)]

    def pressing(draft):
        return lambda: (
            issue(invoice=draft, fingerprint=draft.fingerprint, on=JUNE_30, at=NOON, by=by).payer.name
        )

    given = together(*(pressing(draft) for draft in (*drafts, *drafts)))
    assert {"Nuala Brackenridge", "Cormac Delahide"} <= set(given)
    lines = InvoiceLine.objects.filter(invoice__issued_at__isnull=False, estimate__isnull=False)
    nets = {line.invoice.payer.name: Decimal(0) for line in lines}
    for line in lines:
        nets[line.invoice.payer.name] += line.net
    assert nets == {"Nuala Brackenridge": Decimal("140.00"), "Cormac Delahide": Decimal("10.00")}
