"""What leaves a tree bears: said by a person, else by its botanical name."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from nursery import foliage
from nursery.foliage import Foliage
from nursery.models import AuditRow, Tree
from tests.factories import TaxonFactory, TreeFactory

# From memory, common knowledge of the plants.
CASES = [
    ("Pinus", "sylvestris", "needles"),
    ("Picea", "", "needles"),
    ("Taxus", "baccata", "needles"),
    ("Juniperus", "chinensis", "scales"),
    ("Juniperus", "rigida", "needles"),
    ("Thuja", "occidentalis", "scales"),
    ("Olea", "europaea", "broad"),
    ("Acer", "palmatum", "broad"),
    ("Citrus", "limon", "broad"),
    ("acer", "", "broad"),
    ("Cycas", "revoluta", ""),
    ("", "", ""),
]


@pytest.mark.parametrize(("genus", "species", "expected"), CASES)
def test_a_genus_bears(genus, species, expected):
    assert foliage.of(genus, species) == expected


def test_no_genus_stands_in_the_table_twice():
    genera = [genus for kind in foliage.BEARS.values() for genus in kind.split()]
    assert len(genera) == len(set(genera)) == len(foliage.OF_GENUS)


@pytest.mark.django_db
def test_what_a_person_says_goes_before_the_name():
    tree = TreeFactory(taxon=TaxonFactory(genus="Juniperus", species="chinensis"))
    assert (tree.bears, tree.bears_words) == (Foliage.SCALES, "scale leaves")
    tree.foliage = "needles"
    assert tree.bears is Foliage.NEEDLES


@pytest.mark.django_db
def test_a_tree_without_a_name_bears_what_was_said_or_nothing():
    assert TreeFactory(taxon=None).bears is Foliage.NOT_SAID
    assert TreeFactory(taxon=None, foliage="broad").bears is Foliage.BROAD


def test_the_form_of_a_tree_asks_for_it_and_keeps_it(signed_in, grower):
    tree = TreeFactory(taxon=TaxonFactory(genus="Juniperus", species="chinensis"))
    address, client = reverse("tree_change", args=[tree.pk]), signed_in(grower)
    assert "as its botanical name has it" in client.get(address).text
    client.post(address, {"described_as": "Juniper", "size_class": "2", "foliage": "needles"})
    tree.refresh_from_db()
    assert tree.bears is Foliage.NEEDLES
    assert "foliage" in AuditRow.objects.get(verb="changed a tree").after


@pytest.mark.django_db
@pytest.mark.engine
def test_the_database_knows_the_kinds():
    tree = TreeFactory()
    with pytest.raises(IntegrityError, match="foliage_is_of_a_known_kind"), transaction.atomic():
        Tree.objects.filter(pk=tree.pk).update(foliage="scaly")
