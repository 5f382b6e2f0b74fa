"""What a customer is not told: a round that nobody has decided on."""

import pytest
import time_machine
from django.core import mail as outbox

from boarding.actions.looks import FindingInput
from care import tasks
from care.actions import plans
from care.actions.looks import look_and_plan
from care.models import DueItem
from nursery.models import Nursery, Party
from tests.factories_care import clocked, scrub
from tests.plan_scenes import BRUSH, programme, running, treated
from tests.scenes import at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]


def sweep(when) -> int:
    with time_machine.travel(when, tick=False):
        return tasks.tell_customers()


def test_another_round_is_told_once_it_is_decided() -> None:
    scene = treated()
    Nursery.objects.update(phone="0404 000000", email="office@derrynavail.example")
    Party.objects.filter(pk=scene.owner.pk).update(email="nuala@customer.example")
    found = [FindingInput(organism=scene.scale, live=14)]
    look_and_plan(tree=scene.tree, at=at(4, 6), by=scene.grower, twigs=60, findings=found)
    plan = running(scene, programme(BRUSH, expected_rounds=1), tells_customer=True)
    clocked(scene.grower, scene.tree, scrub(), at(5, 8), 28)
    assert DueItem.objects.get(state="open").what == "Another round, or end the plan?"
    assert sweep(at(6, 10)) == 0
    plans.another_round(plan=plan, why="Two live under one cover", at=at(6, 11), by=scene.proprietor)
    assert sweep(at(6, 12)) == 1
    assert "Next on Sat 6 June 2026: brushing by hand." in str(outbox.outbox[0].body)
