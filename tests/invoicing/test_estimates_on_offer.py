"""Which kinds of estimate can be drawn up on the pages: those whose promise the bill keeps."""

import pytest
import time_machine
from django.test import Client

from invoicing.models import EstimateVersion
from tests.estimate_scenes import D, works
from tests.factories import PersonFactory
from tests.factories_invoicing import StayFactory, a_customer, a_tree_of, at

pytestmark = pytest.mark.django_db


def test_no_figure_is_promised_that_the_bill_would_not_keep(client: Client) -> None:
    payer = a_customer()
    stay = StayFactory(owner=payer, tree=a_tree_of(payer, "DN0412"))
    told = {
        "title": "Treatment against soft scale", "kind": "estimate", "valid_until": "2026-07-03",
        "step_1_words": "Brush it", "step_1_work": works()["scrub"].pk, "step_1_least": "70", "step_1_most": "110",
    }  # fmt: skip
    with time_machine.travel(at(3, 11), tick=False):
        client.force_login(PersonFactory(office=True))
        address = f"/stays/{stay.pk}/estimate/"
        page = client.get(address).text
        assert "Fixed quotation" not in page
        assert "Estimate with cap" not in page
        assert client.post(address, told | {"kind": "cap", "agreed_net": "150"}).status_code == 200
        assert not EstimateVersion.objects.exists()
        client.post(address, told)
    version = EstimateVersion.objects.get()
    # 70 to 110 minutes at 42.00 an hour
    assert (version.kind, version.agreed_net, version.least_net, version.most_net) == (
        "estimate",
        None,
        D("49.00"),
        D("77.00"),
    )
