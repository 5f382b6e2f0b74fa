"""First states at the gate, and the shortest real way to later ones: everything after the first row is an action."""

import datetime as dt
import io

import factory
from factory.django import DjangoModelFactory
from PIL import Image

from boarding.actions import handback, looks, places, reports, stays, visits
from boarding.models import PartGrade, Stay, TermsText, Visit
from boarding.states import StayState
from nursery import clock
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


def final_look(stay: Stay, *, by: Person, at: dt.datetime) -> None:
    """The final inspection of a stay, none seen on 60 twigs."""
    looks.record_look(tree=stay.tree, stay=stay, at=at, by=by, twigs=60, purpose="final")


def goes_home(stay: Stay, *, by: Person, at: dt.datetime, ready_at: dt.datetime | None = None) -> None:
    """Looked at, made ready and handed back; ready an hour before, or earlier."""
    ready_at = ready_at or at - dt.timedelta(hours=1)
    final_look(stay, by=by, at=ready_at - dt.timedelta(hours=1))
    stays.make_ready(stay=stay, at=ready_at, by=by)
    stay.refresh_from_db()
    _handed_back(stay, by, at)


def stay_in(state: StayState, *, by: Person | None = None, at: dt.datetime = NOON) -> Stay:
    """A stay brought into the state by the real actions, each an hour after the one before."""
    by = by or PersonFactory(proprietor=True)
    hour = dt.timedelta(hours=1)
    if state in (StayState.ANNOUNCED, StayState.NEVER_CAME):
        return _announced(state, by, at)
    if state in (StayState.BEING_RECEIVED, StayState.TURNED_AWAY):
        stay = a_visit(by=by, at=at).stays.get()
        return (
            stay
            if state is StayState.BEING_RECEIVED
            else stays.turn_away(stay=stay, reason="r", at=at, by=by)
        )
    stay = a_stay(by=by, at=at)
    if state is StayState.AWAY:
        stays.send_away(stay=stay, reason="A show", place_kept=True, at=at + hour, by=by)
    elif state in (StayState.READY, StayState.HANDED_BACK):
        _ready_or_home(stay, state, by, at)
    elif state is not StayState.IN_CARE:
        _dead(stay, state, by, at)
    return Stay.objects.select_related("tree").get(pk=stay.pk)


def _ready_or_home(stay: Stay, state: StayState, by: Person, at: dt.datetime) -> None:
    hour = dt.timedelta(hours=1)
    final_look(stay, by=by, at=at + hour)
    stays.make_ready(stay=stay, at=at + 2 * hour, by=by)
    if state is StayState.HANDED_BACK:
        _handed_back(stay, by, at + 3 * hour)


def _dead(stay: Stay, state: StayState, by: Person, at: dt.datetime) -> None:
    hour = dt.timedelta(hours=1)
    stays.record_death(stay=stay, reason="Found dry", at=at + hour, by=by)
    if state is StayState.REMAINS_HANDED_OVER:
        stays.hand_over_remains(stay=stay, to_whom="The owner", at=at + 2 * hour, by=by)
    if state is StayState.REMAINS_DISPOSED:
        stays.dispose_of_remains(stay=stay, consent="By telephone", at=at + 2 * hour, by=by)


def _announced(state: StayState, by: Person, at: dt.datetime) -> Stay:
    tree = a_tree()
    owner = tree.ownerships.get(until_on=None).party
    stay = stays.announce(owner=owner, tree=tree, expected_in_on=clock.day_of(at), at=at, by=by)
    if state is StayState.ANNOUNCED:
        return stay
    return stays.mark_never_came(stay=stay, at=at + dt.timedelta(days=1), by=by)


def _handed_back(stay: Stay, by: Person, at: dt.datetime) -> None:
    report = reports.begin_report(stay=stay, kind="handback", at=at, by=by)
    sound = {part.value: (0, "") for part in PartGrade.Part}
    reports.write_report(report=report, fields={}, parts=sound, at=at, by=by)
    handback.hand_back(
        stay=stay,
        collector=stay.owner,
        identity_noted="known to us",
        tag_typed=stay.tree.tags.get(retired_at=None).printed,
        photos_compared=True,
        signer=stay.owner.name,
        drawing=None,
        at=at,
        by=by,
    )
