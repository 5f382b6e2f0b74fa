"""What care puts into slots of the pages below it: the work of a tree, its marks on the stay strip, the first steps."""

import datetime as dt

from boarding.overviews.strips import HATCH_SLOT, SLOT, StripSpan, WorkMark
from boarding.querysets import midnight
from care import querysets
from care.models import Activity, TimeEntry
from care.overviews.contacts import cases_of
from care.overviews.handback import tree_papers
from care.overviews.hatch import next_hatch
from care.overviews.hours import PersonHours, usual_of
from care.overviews.notes import told_of
from care.overviews.work import tree_care
from nursery import clock, slots
from nursery.models import Person, Tree
from nursery.overviews import FIRST_STEPS, FirstStep

CARE_OF_A_TREE = "tree.care"
TOLD_OF_A_TREE = "tree.told"
HOURS_OF_A_PERSON = "person.hours"
OWN_SETTINGS = "person.own"


def care_of(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Work, due items and materials of a tree."""
    return slots.Piece("care/pieces/tree_care.html", tree_care(tree, day))


def contacts_of(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Contact cases about the tree or naming it, and a live find without one; None where there is neither."""
    found = cases_of(tree)
    return slots.Piece("care/pieces/tree_contacts.html", found) if found.lines or found.find else None


def papers_of(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """Handback reports and certificates of a tree, the withdrawn ones with their reason; None while there is none."""
    papers = tree_papers(tree)
    return slots.Piece("care/pieces/tree_papers.html", papers) if papers else None


def told_of_a_tree(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """What to tell the customer of this tree, now and in other seasons."""
    told = told_of(tree.taxon, day)
    return slots.Piece("care/pieces/tree_told.html", told) if told else None


def work_marks(span: StripSpan, day: dt.date, viewer: Person | None) -> slots.Piece:
    """What was done on each day of the span, each kind once a day."""
    done = querysets.not_struck_out().filter(tree=span.tree, stopped_at__isnull=False)
    since, until = midnight(span.first), midnight(span.last + dt.timedelta(days=1))
    entries = done.filter(started_at__gte=since, started_at__lt=until).select_related("activity")
    marks = dict.fromkeys(_mark(entry) for entry in entries.order_by("started_at", "pk"))
    return slots.Piece("", tuple(marks))


def expected_hatch(tree: Tree, day: dt.date, viewer: Person | None) -> slots.Piece | None:
    """When the next hatch on the tree is expected; None where nothing tells it."""
    hatch = next_hatch(tree, day)
    return slots.Piece("", hatch) if hatch else None


def hours_of(who: Person, day: dt.date, viewer: Person | None) -> slots.Piece:
    """How much time a person at work has for trees."""
    return slots.Piece("care/pieces/person_hours.html", PersonHours(who, sum(usual_of(who).values())))


def calendar_of(me: Person, day: dt.date, viewer: Person | None) -> slots.Piece:
    """The address by which one's own calendar reads what is due, where one answers."""
    answers = querysets.feeds_answered().filter(person=me).first()
    return slots.Piece("care/pieces/own_calendar.html", answers)


def activities_step(subject: None, day: dt.date, viewer: Person | None) -> slots.Piece:
    """Whether there are kinds of work to clock."""
    count = Activity.objects.filter(retired_on=None).count()
    state = f"{count} kinds of work." if count else "No kind of work yet, so no clock can start."
    step = FirstStep(
        "What work is done?", count > 0, state, "activities_begin", "Begin with the usual kinds of work"
    )
    return slots.Piece("nursery/pieces/first_step.html", step)


def _mark(entry: TimeEntry) -> WorkMark:
    return WorkMark(clock.day_of(entry.started_at), entry.activity.code, entry.activity.is_treatment)


slots.fill(CARE_OF_A_TREE, contacts_of)
slots.fill(CARE_OF_A_TREE, care_of)
slots.fill(CARE_OF_A_TREE, papers_of)
slots.fill(TOLD_OF_A_TREE, told_of_a_tree)
slots.fill(SLOT, work_marks)
slots.fill(HATCH_SLOT, expected_hatch)
slots.fill(HOURS_OF_A_PERSON, hours_of)
slots.fill(OWN_SETTINGS, calendar_of)
slots.fill(FIRST_STEPS, activities_step)
