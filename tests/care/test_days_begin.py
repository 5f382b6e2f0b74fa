"""A day on which the clocks are put forward over midnight has no midnight; it begins all the same."""

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from nursery.models import Nursery
from tests.scenes import at, in_care

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("day", [6, 7])
def test_today_is_shown_where_the_clocks_are_put_forward_over_midnight(client: Client, day: int) -> None:
    """In Chile 6 September 2026 begins at 01:00."""
    scene = in_care()
    Nursery.objects.update(time_zone="America/Santiago")
    with time_machine.travel(at(day, 15, month=9), tick=False):
        client.force_login(scene.proprietor)
        assert client.get(reverse("today")).status_code == 200
