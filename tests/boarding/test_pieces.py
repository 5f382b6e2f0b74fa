"""What boarding puts into slots."""

import datetime as dt

import pytest

from boarding.models import TermsText
from nursery import overviews

DAY = dt.date(2026, 6, 3)


def step():
    return next(one for one in overviews.first_steps(DAY, None) if one.question == "Under which terms?")


@pytest.mark.django_db
def test_the_terms_stand_among_the_first_steps():
    assert (step().done, step().url_name) == (False, "terms")
    TermsText.objects.create(version="1", valid_from=dt.date(2026, 6, 4), text="Terms")
    assert not step().done
    TermsText.objects.create(version="2", valid_from=DAY, text="Terms")
    assert step().done
    assert step().state == "Terms 2, sample text: have it approved by a lawyer."
