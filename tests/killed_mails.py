"""The morning's reminders and the notices to customers sent by workers that are killed in mid-send, again and again.

Serves both brokers: a house is the place of its workers, the address of its broker, and a way to ask its database.
"""

import random
import signal
import subprocess
import sys
from collections import Counter

from celery import Celery
from django.conf import settings

from tests.killed_issue import shell
from tests.mail_sink import WITHIN_S

POINTS = (
    "greeting",
    "MAIL",
    "text",
)  # before handing over, after it, and after the server had all of the text
AT_ONCE = 2  # threads of a worker, each of which may be in the middle of a mail when it is killed
TASKS = ("care.tasks.send_reminders", "care.tasks.tell_customers")
LAY = """
import datetime as dt
from boarding.models import Stay
from care.models import DueItem, DueMove
from nursery import clock
from nursery.models import Nursery
from tests.factories import BareTreeFactory, NurseryFactory, OwnershipFactory, PartyFactory, PersonFactory
from tests.notice_scenes import treated

midnight, now, day, ONE = dt.time(0), clock.now(), clock.today(), dt.timedelta(days=1)
NurseryFactory()
Nursery.objects.update(reminder_at=midnight, quiet_from=midnight, quiet_until=midnight)
people = [PersonFactory(proprietor=n == 0, joined_at=None) for n in range({each})]
tree = BareTreeFactory()
def item(what, due_on, latest_on=None):
    return DueItem.objects.create(
        tree=tree, kind="other", what=what, why="x", earliest_on=due_on, due_on=due_on, latest_on=latest_on, made_at=now
    )
item("Turn the pot", day)
item("Spray", day - 5 * ONE, day - 4 * ONE)
later = item("Wash", day + 9 * ONE)
DueMove.objects.create(item=later, from_on=day + 4 * ONE, to_on=day + 9 * ONE, why="cold", at=now)
for n in range({each}):
    owner = PartyFactory(email=f"customer{{n}}@customer.example")
    its = BareTreeFactory()
    OwnershipFactory(tree=its, party=owner)
    stay = Stay.objects.create(
        tree=its, owner=owner, payer=owner, state="in_care", size_class=2, received_at=now - 9 * ONE
    )
    treated(stay, people[0], now - dt.timedelta(hours=2), day + 7 * ONE)
"""
MAILS = (
    "SELECT p.email, m.handed_over_at, m.sent_at FROM care_remindermail m"
    " JOIN nursery_person p ON p.id = m.person_id"
    " UNION ALL SELECT to_email, handed_over_at, sent_at FROM care_customernotice"
)
CLAIMED = "SELECT reason, count(*) FROM care_reminder GROUP BY reason ORDER BY reason"
TOLD = "SELECT count(*), count(DISTINCT due_item_id) FROM care_toldtreatment"


class House:
    """Workers and rings of one place."""

    def __init__(self, place, broker, options, ask):
        self.place, self.broker, self.options, self.ask = place, broker, options, ask
        self.started = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for process in self.started:
            self.end(process, signal.SIGKILL)

    def ring(self, times=1):
        """What so many beats do at once."""
        with Celery(broker=self.broker, set_as_current=False) as beat:
            beat.conf.broker_transport_options = self.options
            beat.conf.task_default_queue = settings.CELERY_TASK_DEFAULT_QUEUE
            for task in TASKS * times:
                beat.send_task(task, ignore_result=True)

    def worker(self):
        command = [sys.executable, "-m", "celery", "--app", "nursery", "--quiet", "worker"]
        command += ["--loglevel", "ERROR", "--pool", "threads", "--concurrency", str(AT_ONCE)]
        command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        self.started.append(subprocess.Popen(command, cwd=settings.BASE_DIR, env=self.place))
        return self.started[-1]

    def end(self, process, how):
        if process.poll() is None:
            process.send_signal(how)
        process.wait(timeout=WITHIN_S)

    def die(self, sink, point, rings=2):
        """A worker killed while it waits for the mail server at the point."""
        sink.fall_silent(point)
        worker = self.worker()
        self.ring(rings)
        assert sink.reached.wait(WITHIN_S)
        self.end(worker, signal.SIGKILL)
        sink.fall_silent("")


def die_again_and_again(house, sink, kills):
    """Kill in mid-send so often, let another worker finish, and look at every mail and every row."""
    each = AT_ONCE * kills + 2
    shell(house.place, LAY.format(each=each))
    dice = random.Random(20260626)
    for number in range(kills):
        house.die(sink, POINTS[number] if number < len(POINTS) else dice.choice(POINTS))
    handed = sum(over is not None for _, over, _ in house.ask(MAILS))
    worker = house.worker()
    house.ring(times=2)
    sink.wait_for(len(sink.arrived) + 2 * each - handed)
    house.end(worker, signal.SIGTERM)
    look(house, sink, kills, each)


def look(house, sink, kills, each):
    """Each mail was sent once, or is shown as perhaps sent; each reason was claimed once a person."""
    arrived, perhaps = sink.receivers(), 0
    mails = house.ask(MAILS)
    assert len(mails) == 2 * each
    for address, over, sent in mails:
        assert over is not None
        perhaps += sent is None
        assert arrived[address] == 1 if sent else arrived[address] <= 1
    assert 1 <= perhaps <= AT_ONCE * kills
    assert Counter(mail["Message-ID"] for mail in sink.arrived).most_common(1)[0][1] == 1
    claimed = dict(house.ask(CLAIMED))
    assert claimed == {"due": 2 * each, "moved": each, "passed": each, "escalated": 1}
    assert tuple(house.ask(TOLD)[0]) == (each, each)
