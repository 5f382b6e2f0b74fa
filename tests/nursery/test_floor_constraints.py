"""Written around Python: what the database itself refuses on the floor."""

import datetime as dt

import pytest
from django.db import IntegrityError, connection, transaction

from nursery.models import AuditRow, Consent, Nursery, Ownership, PartyAddress, PartyLink, Person, Tag
from tests.factories import (
    DAY,
    NOON,
    AddressFactory,
    BareTreeFactory,
    BenchFactory,
    KeptFileFactory,
    NurseryFactory,
    OwnershipFactory,
    PartyFactory,
    PersonFactory,
    TagFactory,
    TaxonFactory,
    TreeFactory,
)

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


def refused(words, act):
    """The database refuses, naming the rule; what was there stays."""
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        act()


def sql(text, *values):
    with connection.cursor() as cursor:
        cursor.execute(text, values)


def test_the_audit_trail_is_append_only():
    row = AuditRow.objects.create(
        at=NOON, by_name="Orla", verb="did", subject_type="x", subject_id="1", subject_words="x"
    )
    refused("only ever added to", lambda: AuditRow.objects.filter(pk=row.pk).update(verb="did not"))
    refused("only ever added to", lambda: sql("DELETE FROM nursery_auditrow"))
    assert AuditRow.objects.get().verb == "did"


def test_a_tag_code_is_given_once():
    tag = TagFactory(code="DN0412")
    Tag.objects.filter(pk=tag.pk).update(retired_at=NOON, retired_why="lost")
    refused("(?i)unique|code", lambda: TagFactory(code="DN0412"))


def test_a_retired_tag_never_comes_back():
    tag = TagFactory()
    Tag.objects.filter(pk=tag.pk).update(retired_at=NOON, retired_why="lost")
    refused("never comes back", lambda: Tag.objects.filter(pk=tag.pk).update(retired_at=None, retired_why=""))
    refused("never comes back", lambda: Tag.objects.filter(pk=tag.pk).delete())


def test_a_tag_stays_with_its_tree():
    tag, other = TagFactory(), BareTreeFactory()
    refused("stays with its tree", lambda: Tag.objects.filter(pk=tag.pk).update(tree=other))


def test_one_live_tag_per_tree():
    tree = TreeFactory()
    refused("(?i)unique|one_live_tag", lambda: TagFactory(tree=tree))


def test_a_retired_tag_says_why():
    tag = TagFactory()
    refused("a_retired_tag_says_why", lambda: Tag.objects.filter(pk=tag.pk).update(retired_at=NOON))


def test_one_owner_of_a_tree_at_a_time():
    tree = TreeFactory()
    refused("(?i)unique|one_owner", lambda: OwnershipFactory(tree=tree))


def test_ownership_ends_after_it_begins():
    row = OwnershipFactory(since_on=DAY)
    before = dt.date(2026, 6, 2)
    refused("ownership_ends", lambda: Ownership.objects.filter(pk=row.pk).update(until_on=before))


def test_one_payer_and_one_contact_but_many_collectors():
    tree = BareTreeFactory()

    def link(role):
        return PartyLink.objects.create(tree=tree, party=PartyFactory(), role=role, since_on=DAY)

    link("collector"), link("collector"), link("payer"), link("contact")
    refused("(?i)unique|one_payer", lambda: link("payer"))
    refused("(?i)unique|one_payer", lambda: link("contact"))


def test_an_address_is_not_rewritten():
    row = AddressFactory()
    refused("add a new version", lambda: PartyAddress.objects.filter(pk=row.pk).update(town="Arklow"))
    refused("(?i)unique|one_address", lambda: AddressFactory(party=row.party))


def test_what_somebody_said_is_not_rewritten():
    by = PersonFactory()
    row = Consent.objects.create(
        party=PartyFactory(), question="photo_use", wording="?", answer="no", at=NOON, taken_by=by
    )
    refused("not rewritten", lambda: Consent.objects.filter(pk=row.pk).update(answer="yes"))
    refused("not rewritten", lambda: Consent.objects.filter(pk=row.pk).delete())


def test_a_kept_file_never_changes():
    row = KeptFileFactory()
    refused("never changes", lambda: type(row).objects.filter(pk=row.pk).update(sha256="0" * 64))


def test_a_leaver_cannot_be_active():
    person = PersonFactory()
    refused("leaver_is_locked_out", lambda: Person.objects.filter(pk=person.pk).update(left_on=DAY))


def test_one_person_per_address_in_any_case():
    PersonFactory(email="orla@derrynavail.example")
    refused("(?i)unique|one_person", lambda: PersonFactory(email="Orla@derrynavail.example"))


def test_there_is_one_nursery():
    NurseryFactory()
    refused("there_is_one_nursery", lambda: Nursery.objects.bulk_create([Nursery(pk=2, name="Another")]))


def test_a_bench_has_room():
    refused("bench_has_room", lambda: BenchFactory(area_m2=0))


def test_a_taxon_is_named_once():
    TaxonFactory(cultivar="Mops")
    refused("(?i)unique|a_taxon", lambda: TaxonFactory(cultivar="Mops"))
