"""Reminders: which went out, and those a person has to look at."""

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from care.actions.reminders import mark_seen
from care.models import CustomerNotice, ReminderMail
from care.overviews.mail_lines import sections
from care.tables.reminders import NoticeTable, ReminderTable
from nursery import clock
from nursery.csv_answers import csv_answer, csv_wanted
from nursery.models import Nursery
from nursery.once import not_done, once
from nursery.permissions import DESK, permitted
from nursery.refusals import Refused
from nursery.tables import ruled
from nursery.viewer import viewer_of
from nursery.ways import back_to
from nursery.words import clock_time


@permitted(*DESK)
@require_GET
def reminders(request: HttpRequest) -> HttpResponse:
    """Which reminders went out?"""
    mails = ReminderMail.objects.select_related("person").annotate(item_count=Count("reminders"))
    table = ruled(request, ReminderTable(mails, empty_text=ReminderTable.Meta.empty_text))
    told = CustomerNotice.objects.select_related("party", "plan__tree")
    notices = ruled(request, NoticeTable(told, empty_text=NoticeTable.Meta.empty_text, prefix="customers-"))
    if csv_wanted(request):
        wanted = notices if request.GET["csv"] == "customers" else table
        return csv_answer(wanted, "notices" if wanted is notices else "reminders")
    here = Nursery.here()
    page = {"table": table, "notices": notices, "sections": sections(clock.now())}
    if here.quiet_from != here.quiet_until:
        page["quiet"] = (clock_time(here.quiet_from), clock_time(here.quiet_until))
    return render(request, "care/reminders.html", page)


@permitted(*DESK)
@require_POST
@once
def reminder_seen(request: HttpRequest, pk: int) -> HttpResponse:
    """Somebody has looked at a mail that may not have arrived."""
    mail = get_object_or_404(ReminderMail, pk=pk)
    try:
        mark_seen(mail=mail, at=clock.now(), by=viewer_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return not_done(redirect(back_to(request, reverse("today"))))
    return redirect(back_to(request, reverse("today")))
