"""Work, due items and the ledger by the question that is asked. The day comes first; it is a date at the nursery."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, Sum

from boarding.health import Standing, draws_neighbours
from boarding.models import Look, Occupancy, Photo, StandingRow, Stay, ZoneOverride
from boarding.querysets import midnight
from boarding.states import StayState
from care import minutes
from care.models import (
    Activity,
    CareNote,
    ContactCase,
    ContactTree,
    CustomerNotice,
    DueItem,
    HeldFigure,
    LedgerEntry,
    Material,
    Pause,
    Plan,
    PlanStep,
    Programme,
    ReminderMail,
    TimeEntry,
)
from care.states import PLAN_OVER
from nursery import clock
from nursery.models import Organism, Ownership, Party, PartyLink, Person, Tree, Zone
from nursery.querysets import with_live_address

DAY = dt.timedelta(days=1)
HERE = (StayState.IN_CARE, StayState.AWAY, StayState.READY)
GONE = (
    *(StayState.HANDED_BACK, StayState.DIED, StayState.REMAINS_HANDED_OVER, StayState.REMAINS_DISPOSED),
    *(StayState.DISPOSED_UNDER_NOTICE, StayState.TURNED_AWAY, StayState.NEVER_CAME),
)
NOT_SENT = Q(failed_at__isnull=False, perhaps_seen_at=None)


# ---- activities and materials ------------------------------------------------------------------------------------


def activities_on(day: dt.date) -> QuerySet[Activity]:
    """Kinds of work in use on the day, in the order of the buttons."""
    return Activity.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


def programmes_on(day: dt.date) -> QuerySet[Programme]:
    """Programmes of treatment in use on the day."""
    return Programme.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


def materials_on(day: dt.date) -> QuerySet[Material]:
    """Materials in use on the day."""
    return Material.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


# ---- pests: figures held to, notes for customers -----------------------------------------------------------------


def held_figures() -> QuerySet[HeldFigure]:
    """The figures the nursery holds to now, one for each generation of a pest that has one."""
    return HeldFigure.objects.filter(ended_at=None).select_related("organism", "threshold")


def figure_of(organism: Organism, generation: int) -> HeldFigure | None:
    """The figure held to now for a generation of a pest."""
    return held_figures().filter(organism=organism, generation=generation).first()


def notes_on(day: dt.date) -> QuerySet[CareNote]:
    """Notes for customers in use on the day, whatever the season."""
    return CareNote.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


# ---- work --------------------------------------------------------------------------------------------------------


def not_struck_out() -> QuerySet[TimeEntry]:
    """Work that was not struck out."""
    return TimeEntry.objects.filter(struck_out_at=None)


def with_pause() -> QuerySet[TimeEntry]:
    """Work with everything its line shows, and whether a pause of it is open (`paused`)."""
    paused = Pause.objects.filter(entry=OuterRef("pk"), until_at=None)
    entries = TimeEntry.objects.select_related("tree", "activity", "person")
    return entries.annotate(paused=Exists(paused))


def running() -> QuerySet[TimeEntry]:
    """Clocks that run now, paused and doubtful ones included."""
    return not_struck_out().filter(stopped_at=None)


def running_on(tree: Tree) -> TimeEntry | None:
    """A clock that runs on the tree now, whoever's it is."""
    return running().filter(tree=tree).select_related("person", "activity").first()


def running_of(person: Person) -> TimeEntry | None:
    """The person's one running clock."""
    return with_pause().filter(person=person, stopped_at=None, struck_out_at=None).first()


def standing_work() -> QuerySet[TimeEntry]:
    """Work that counts: ended, confirmed, not struck out."""
    return not_struck_out().filter(stopped_at__isnull=False, confirmed_at__isnull=False)


def work_of_day(day: dt.date) -> QuerySet[TimeEntry]:
    """Work begun on the day, whatever became of it."""
    return TimeEntry.objects.filter(started_at__gte=midnight(day), started_at__lt=midnight(day + DAY))


def group_work(stay: Stay, activity: Activity, day: dt.date) -> QuerySet[TimeEntry]:
    """The work that is added up and rounded once: one stay, one activity, one local day of the start."""
    of_day = standing_work().filter(started_at__gte=midnight(day), started_at__lt=midnight(day + DAY))
    return of_day.filter(stay=stay, activity=activity).prefetch_related("pauses").order_by("started_at", "pk")


def to_confirm() -> QuerySet[TimeEntry]:
    """Work that waits for a person's word: doubtful clocks, and entries ended but not confirmed."""
    waiting = Q(stopped_at__isnull=False) | Q(doubtful_at__isnull=False)
    return with_pause().filter(waiting, confirmed_at=None, struck_out_at=None)


def overlapping(entry: TimeEntry, until_at: dt.datetime) -> QuerySet[TimeEntry]:
    """Other work of the same person at the same time; ends that meet do not overlap."""
    others = not_struck_out().filter(person=entry.person_id).exclude(pk=entry.pk)
    return others.filter(started_at__lt=until_at).filter(
        Q(stopped_at=None) | Q(stopped_at__gt=entry.started_at)
    )


def seconds_of(entry: TimeEntry) -> int:
    """Seconds worked, pauses taken out, by instants; an entry still running has none."""
    if entry.stopped_at is None:
        return 0
    pauses = [(pause.from_at, pause.until_at or entry.stopped_at) for pause in entry.pauses.all()]
    return minutes.worked_seconds(entry.started_at, entry.stopped_at, pauses)


def last_sign(entry: TimeEntry, until_at: dt.datetime) -> dt.datetime:
    """The last sign of work of the person since the clock started: a pause, a photo, a look, a move."""
    since, person = entry.started_at, entry.person_id
    signs: list[Iterable[dt.datetime | None]] = [
        Pause.objects.filter(entry=entry).values_list("from_at", flat=True),
        Pause.objects.filter(entry=entry).values_list("until_at", flat=True),
        Photo.objects.filter(added_by=person, added_at__range=(since, until_at)).values_list(
            "added_at", flat=True
        ),
        Look.objects.filter(by=person, at__range=(since, until_at)).values_list("at", flat=True),
        Occupancy.objects.filter(moved_by=person, from_at__range=(since, until_at)).values_list(
            "from_at", flat=True
        ),
    ]
    seen = [sign for group in signs for sign in group if sign and since <= sign <= until_at]
    return max([since, *seen])


# ---- whose work it is --------------------------------------------------------------------------------------------


def stay_at(tree: Tree, instant: dt.datetime) -> Stay | None:
    """The stay in whose custody the tree was on the local day of the instant; the one holding the instant first.

    A tree being received has not arrived in the books yet: its stay is found too.
    """
    day = clock.day_of(instant)
    begun = Q(received_at__lt=midnight(day + DAY)) | Q(received_at=None, state=StayState.BEING_RECEIVED)
    ended = Q(left_at=None) | Q(left_at__gte=midnight(day))
    stays = list(Stay.objects.filter(begun & ended, tree=tree).order_by("received_at", "pk"))
    holding = [stay for stay in stays if _holds(stay, instant)]
    chosen = holding or stays
    return chosen[-1] if chosen else None


def _holds(stay: Stay, instant: dt.datetime) -> bool:
    begun = stay.received_at is None or stay.received_at <= instant
    return begun and (stay.left_at is None or instant < stay.left_at)


def owner_on(tree: Tree, day: dt.date) -> Ownership | None:
    """Whose tree it was on the day; a row without a party is the nursery's own stock."""
    rows = Ownership.objects.filter(tree=tree, since_on__lte=day).exclude(until_on__lte=day)
    return rows.select_related("party").order_by("-since_on", "-pk").first()


def payer_on(stay: Stay, day: dt.date) -> Party:
    """Who pays for work on the tree of the stay on the day: the linked payer, else the payer of the stay."""
    links = PartyLink.objects.filter(tree=stay.tree_id, role=PartyLink.Role.PAYER, since_on__lte=day)
    link = links.exclude(until_on__lte=day).select_related("party").first()
    return link.party if link else stay.payer


# ---- what is due -------------------------------------------------------------------------------------------------


def open_items() -> QuerySet[DueItem]:
    """Due items that have not ended."""
    return DueItem.objects.filter(state=DueItem.State.OPEN)


def due_by(day: dt.date) -> QuerySet[DueItem]:
    """Open items due on or before the day, the longest overdue first."""
    return open_items().filter(due_on__lte=day).order_by("due_on", "pk")


def items_of_gone() -> QuerySet[DueItem]:
    """Open items of stays that have ended, whose tree is no longer in the nursery's hands."""
    return open_items().filter(stay__state__in=GONE).select_related("stay__tree")


def looks_not_followed() -> Sequence[Look]:
    """The last look of each tree whose open 'look again' it does, or which is under observation or suspect without one;
    what a person has let fall away since stays away until the next look."""
    planned = DueItem.objects.filter(tree=OuterRef("tree"), kind=DueItem.Kind.LOOK)
    waiting = planned.filter(state=DueItem.State.OPEN)
    asked = waiting.filter(made_at__lte=OuterRef("at"))  # what was asked for after the look, it does not do
    dropped = planned.filter(state=DueItem.State.FELL_AWAY, made_at__gte=OuterRef("at"))
    last = Look.objects.filter(tree=OuterRef("tree")).order_by("-at", "-pk").values("pk")[:1]
    asking = StandingRow.objects.filter(until_at=None, standing__in=[Standing.OBSERVED, Standing.SUSPECT])
    asking = asking.filter(tree=OuterRef("tree"), since_at__lte=OuterRef("at"))
    in_house = Stay.objects.filter(state__in=[StayState.IN_CARE, StayState.READY]).values("tree")
    rows = Look.objects.filter(pk=Subquery(last), tree__in=in_house).annotate(
        waits=Exists(waiting), earliest=Subquery(asked.order_by("earliest_on").values("earliest_on")[:1])
    )
    unplanned = rows.filter(~Exists(dropped), Exists(asking), waits=False, live=0)
    unplanned = unplanned.select_related("tree", "by", "stay")
    unticked = rows.filter(earliest__isnull=False).select_related("tree", "by", "stay")
    return [*unplanned, *(look for look in unticked if look.earliest <= clock.day_of(look.at))]


# ---- contacts ----------------------------------------------------------------------------------------------------


def open_cases() -> QuerySet[ContactCase]:
    """Contact cases that are not closed."""
    return ContactCase.objects.filter(closed_at=None)


def waiting_for_a_look() -> QuerySet[ContactTree]:
    """Trees on lists that nobody has looked at since the find."""
    return ContactTree.objects.filter(look=None, to_do__in=[ContactTree.ToDo.INSPECT, ContactTree.ToDo.LOOK])


def waiting_to_be_told() -> QuerySet[ContactTree]:
    """Trees on lists whose owner has not been told; of the nursery's own, which have no stay, nobody is told."""
    told = [ContactTree.ToDo.INSPECT, ContactTree.ToDo.TELL]
    return ContactTree.objects.filter(told_at=None, stay__isnull=False, to_do__in=told)


def lists_served_by(look: Look) -> QuerySet[ContactTree]:
    """Rows of lists whose inspection this look does: it came after the find, or after an exception brought the tree
    near; for a tree put on the list by hand, whose contact nobody dated, after that."""
    found = Q(case__look__isnull=False, case__until_at__lt=look.at)
    near = Q(case__look=None, from_at__lt=look.at)
    by_hand = Q(added_by__isnull=False, added_at__lte=look.at)
    drawn = Q(added_by=None) & (found | near)
    return waiting_for_a_look().filter(drawn | by_hand, tree=look.tree_id)


def looks_for_lists() -> QuerySet[Look]:
    """The last look at each tree that waits on a list of an open case."""
    waits = waiting_for_a_look().filter(case__closed_at=None).values("tree")
    last = Look.objects.filter(tree=OuterRef("tree")).order_by("-at", "-pk").values("pk")[:1]
    return Look.objects.filter(pk=Subquery(last), tree__in=waits)


def contacts_of_the_healthy() -> QuerySet[ContactTree]:
    """Rows of fixed lists whose tree bore nothing that was known of when it was drawn in."""
    bore = [Standing.INFESTED.value, Standing.OBSERVED.value, Standing.NOTIFIABLE.value]
    return ContactTree.objects.filter(case__list_fixed_at__isnull=False).exclude(standing__in=bore)


def find_of(tree: Tree) -> Look | None:
    """The look of the live find that stands on the tree."""
    row = StandingRow.objects.filter(tree=tree, until_at=None, standing=Standing.INFESTED.value)
    found = row.select_related("look__stay__visit").first()
    return found.look if found else None


def finds_without_case() -> QuerySet[StandingRow]:
    """Live finds that stand and whose contacts nobody has looked for. What is found at the gate stood with nobody."""
    rows = StandingRow.objects.filter(until_at=None, standing=Standing.INFESTED.value, look__isnull=False)
    rows = rows.filter(look__contact_case=None).exclude(tree__in=open_cases().values("source"))
    return rows.exclude(look__purpose=Look.Purpose.CHECK_IN).select_related("tree", "look", "by")


def exceptions_that_draw(since: dt.datetime) -> QuerySet[ZoneOverride]:
    """Written exceptions that take the neighbours into a contact case: those that stand, and those ended since."""
    drawing = [one.value for one in Standing if draws_neighbours(Zone.CLEAN.value, one)]
    rows = ZoneOverride.objects.filter(bench__zone=Zone.CLEAN, standing__in=drawing)
    return rows.filter(Q(ended_at=None) | Q(ended_at__gte=since)).select_related("tree", "bench", "made_by")


# ---- the ledger --------------------------------------------------------------------------------------------------


def not_billed() -> QuerySet[LedgerEntry]:
    """Chargeable facts that no document has locked; a fact taken back has the quantity 0 and is left out."""
    return LedgerEntry.objects.filter(lock="").exclude(quantity=0)


def charged_minutes(stay: Stay, activity: Activity, day: dt.date) -> int:
    """Minutes charged for one activity of a stay on a day, those not charged taken out."""
    rows = LedgerEntry.objects.filter(stay=stay, activity=activity, day=day)
    sums = rows.aggregate(
        labour=Sum("quantity", filter=Q(kind=LedgerEntry.Kind.LABOUR), default=0),
        free=Sum("quantity", filter=Q(kind=LedgerEntry.Kind.NOT_CHARGED), default=0),
    )
    return int(sums["labour"] - sums["free"])


# ---- reminders ---------------------------------------------------------------------------------------------------


def mails_to_send(day: dt.date) -> QuerySet[ReminderMail]:
    """Mails of the day that were claimed and not yet handed over."""
    waiting = ReminderMail.objects.filter(sent_at=None, handed_over_at=None, failed_at=None, day=day)
    waiting = waiting.filter(person__in=with_live_address(Person.objects.filter(is_active=True)))
    return waiting.select_related("person").order_by("pk")


def mails_perhaps_sent(before: dt.datetime) -> QuerySet[ReminderMail]:
    """Mails handed over before the instant and never marked as sent, which nobody has looked at yet."""
    return ReminderMail.objects.filter(_perhaps_sent(before)).select_related("person")


def mails_failed() -> QuerySet[ReminderMail]:
    """Mails that did not go, which nobody has looked at yet."""
    return ReminderMail.objects.filter(NOT_SENT).select_related("person")


def notices_perhaps_sent(before: dt.datetime) -> QuerySet[CustomerNotice]:
    """The same of the mails to customers."""
    return CustomerNotice.objects.filter(_perhaps_sent(before)).select_related("party")


def notices_failed() -> QuerySet[CustomerNotice]:
    """The same of the mails to customers."""
    return CustomerNotice.objects.filter(NOT_SENT).select_related("party")


def _perhaps_sent(before: dt.datetime) -> Q:
    return Q(sent_at=None, failed_at=None, handed_over_at__lt=before, perhaps_seen_at=None)


# ---- what customers are told ---------------------------------------------------------------------------------------


def telling_plans() -> QuerySet[Plan]:
    """Plans whose customer agreed to be told, while they run and their tree is here for whoever agreed."""
    here = Q(stay=None) | Q(stay__state__in=HERE)
    return Plan.objects.filter(here, tells_customer=True).exclude(state__in=PLAN_OVER)


def treatments_untold(since: dt.datetime) -> QuerySet[DueItem]:
    """Steps of these plans done since the instant by work that stands, and told to nobody yet; plan by plan."""
    steps = PlanStep.objects.filter(plan__in=telling_plans())
    done = DueItem.objects.filter(plan_step__in=steps, state=DueItem.State.DONE, kind=DueItem.Kind.TREAT)
    stands = done.filter(
        done_entry__stopped_at__isnull=False,
        done_entry__confirmed_at__isnull=False,
        done_entry__struck_out_at=None,
    )
    untold = stands.filter(closed_at__gte=since, stay__state__in=HERE, told=None)
    known = untold.select_related("plan_step__plan__tree", "done_entry")
    return known.order_by("plan_step__plan", "done_entry__started_at", "pk")


def next_of(plan: Plan) -> DueItem | None:
    """The next open step of the plan; another round is none before it is decided."""
    waiting = open_items().filter(plan_step__plan=plan).exclude(kind=DueItem.Kind.OTHER)
    waiting = waiting.select_related("plan_step")
    return waiting.order_by("due_on", "pk").first()


def days_told() -> QuerySet[CustomerNotice]:
    """The last notice of each of these plans, once it has left the house."""
    later = CustomerNotice.objects.filter(plan=OuterRef("plan"), pk__gt=OuterRef("pk"))
    told = CustomerNotice.objects.filter(plan__in=telling_plans(), handed_over_at__isnull=False)
    here = told.filter(~Exists(later), next_item__stay__state__in=HERE)
    return here.select_related("plan__tree", "next_item").order_by("pk")


def notices_waiting() -> QuerySet[CustomerNotice]:
    """Mails to customers that were claimed and not yet handed over."""
    return CustomerNotice.objects.filter(sent_at=None, handed_over_at=None, failed_at=None).order_by("pk")


def latest_first(entries: QuerySet[TimeEntry]) -> QuerySet[TimeEntry]:
    """The newest work on top."""
    return entries.order_by(F("started_at").desc(), F("pk").desc())
