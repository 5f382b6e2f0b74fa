"""First states at the gate, and the shortest real way to later ones: everything after the first row is an action."""

import datetime as dt
import io

import factory
from factory.django import DjangoModelFactory
from PIL import Image

from boarding.actions import places, reports, visits
from boarding.models import PartGrade, Stay, TermsText, Visit
from nursery.models import Bench, Party, Person, RateCard, Tree
from nursery.models.parties import MEANS
from tests.factories import NOON, BenchFactory, NurseryFactory, PartyFactory, PersonFactory, TreeFactory, r1


class TermsFactory(DjangoModelFactory[TermsText]):
    class Meta:
        model = TermsText

    version = factory.Sequence(lambda n: f"Terms {n}")
    valid_from = dt.date(2026, 1, 1)
    text = "1. We keep the tree.\n\n2. We promise no success."


def picture(colour: str = "green", kind: str = "JPEG", size: tuple[int, int] = (60, 40)) -> bytes:
    """The bytes of a plain picture."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, kind)
    return out.getvalue()


def drawing() -> bytes:
    """The bytes of a drawn signature."""
    return picture("white", "PNG", (300, 100))


def a_house() -> None:
    """What must be there before the first check-in: nursery, rate card R1, terms."""
    NurseryFactory()
    if not RateCard.objects.exists():
        r1()
    if not TermsText.objects.exists():
        TermsFactory()


def a_tree(owner: Party | None = None, **details: object) -> Tree:
    """A customer's tree with a tag."""
    return TreeFactory(owner__party=owner or PartyFactory(), **details)


def a_visit(tree: Tree | None = None, *, by: Person | None = None, at: dt.datetime = NOON) -> Visit:
    """A visit with its customer and one tree on the list."""
    a_house()
    tree = tree or a_tree()
    by = by or PersonFactory()
    visit = visits.open_visit(at=at, by=by, customer=tree.ownerships.get(until_on=None).party)
    visits.add_to_visit(visit=visit, tree=tree, at=at, by=by)
    return visit


def ready_to_sign(visit: Visit, *, by: Person, at: dt.datetime = NOON, bench: Bench | None = None) -> Visit:
    """Everything but the signature: agreement, means, report, one photo and a bench for each tree."""
    visits.write_agreement(visit=visit, at=at, by=by)
    for stay in visit.stays.order_by("pk"):
        visits.answer_means(stay=stay, answers={q.value: "yes" for q in MEANS}, at=at, by=by)
        report = reports.begin_report(stay=stay, kind="check_in", at=at, by=by)
        sound = {part.value: (0, "") for part in PartGrade.Part}
        reports.write_report(report=report, fields={}, parts=sound, at=at, by=by)
        reports.add_photo(report=report, angle="front", data=picture(), at=at, by=by)
        places.move_tree(tree=stay.tree, to=bench or BenchFactory(), at=at, by=by)
    return visit


def a_stay(
    tree: Tree | None = None, *, by: Person | None = None, at: dt.datetime = NOON, bench: Bench | None = None
) -> Stay:
    """A stay in care, reached by a whole check-in at one instant."""
    by = by or PersonFactory()
    visit = ready_to_sign(a_visit(tree, by=by, at=at), by=by, at=at, bench=bench)
    visits.sign_agreement(visit=visit, signer=visit.customer.name, drawing=drawing(), at=at, by=by)
    visits.close_visit(visit=visit, at=at, by=by)
    return Stay.objects.select_related("tree", "visit__receipt").get(visit=visit)
