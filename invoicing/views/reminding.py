"""Payment reminders: which bills are to be reminded, how a reminder would look, and by which rules."""

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from invoicing.actions import reminding
from invoicing.models import LateTerms, PaymentReminder, ReminderRules
from invoicing.overviews.reminding import to_remind
from invoicing.reminder_words import TITLES, reminder_words
from invoicing.reminding_forms import ReminderRulesForm, RemindForm
from nursery import clock, papers, papers_render
from nursery.actions.paper_mails import mail_paper
from nursery.forms.fields import refusals_in
from nursery.models import Nursery, Party
from nursery.once import not_done, once
from nursery.permissions import DESK, OWNER, permitted
from nursery.refusals import Refused
from nursery.viewer import viewer_of

SHOWN = 20


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def bills_to_remind(request: HttpRequest) -> HttpResponse:
    """Which bills are to be reminded? One press makes the papers of those ticked."""
    form = RemindForm(request.POST or None, page=to_remind(clock.today()))
    if request.method == "POST" and form.is_valid():
        mail = form.cleaned_data["mail"]
        made = sum(_made(request, *told, mail=mail) for told in form.chosen())
        if made:
            papers_made = "1 reminder is" if made == 1 else f"{made} reminders are"
            messages.success(
                request, f"{papers_made} issued; print them below{', but those mailed' if mail else ''}."
            )
        answer = redirect("bills_to_remind")
        return answer if made else not_done(answer)
    lately = PaymentReminder.objects.select_related("party", "paper", "by").prefetch_related("paper__mails")[
        :SHOWN
    ]
    page = {
        "form": form,
        "page": form.page,
        "lately": lately,
        "rules": ReminderRules.here(),
        "currency": Nursery.here().currency,
    }
    return render(request, "invoicing/to_remind.html", page)


@permitted(*DESK)
@require_GET
def reminder_preview(request: HttpRequest, pk: int, level: int) -> HttpResponse:
    """How would the reminder look? Nothing is issued."""
    party, now = get_object_or_404(Party, pk=pk), clock.now()
    on = clock.day_of(now)
    letter = next((one for one in to_remind(on, party).letters if one.level == level), None)
    if letter is None:
        messages.info(request, f"No reminder of this level is due to {party}.")
        return redirect("bills_to_remind")
    frozen = {"number": "not issued yet", "title": TITLES[level], "nursery": papers.letterhead()}
    told = reminder_words(letter, ReminderRules.here(), on, viewer_of(request)) | frozen
    text = render_to_string("documents/reminder.html", told)
    data = papers_render.pdf_of(text, issued_at=now, identifier=f"look {now:%y%m%d%H%M}")
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="reminder.pdf"'
    return answer


@permitted(*DESK)
@require_GET
def reminder_rules(request: HttpRequest) -> HttpResponse:
    """How do we remind?"""
    return _rules(request, ReminderRulesForm(instance=ReminderRules.here()))


@permitted(*OWNER)
@require_POST
@once
def reminder_rules_write(request: HttpRequest) -> HttpResponse:
    """Write the days and words by which reminders are proposed."""
    form = ReminderRulesForm(request.POST, instance=ReminderRules.here())
    if form.is_valid():
        with refusals_in(form):
            reminding.change_rules(fields=form.cleaned_data, at=clock.now(), by=viewer_of(request))
            messages.success(request, "Written down. Reminders issued already keep what they say.")
            return redirect("reminder_rules")
    return _rules(request, form)


def _rules(request: HttpRequest, form: ReminderRulesForm) -> HttpResponse:
    page = {
        "form": form,
        "rules": ReminderRules.here(),
        "terms": LateTerms.objects.select_related("by"),
        "may_write": viewer_of(request).role in OWNER,
        "currency": Nursery.here().currency,
    }
    return render(request, "invoicing/reminder_rules.html", page)


def _made(request: HttpRequest, party: int, level: int, seen: Decimal, *, mail: bool) -> bool:
    """One of those ticked; what was refused is said, and the others go on."""
    who = Party.objects.filter(pk=party).first()
    if who is None:
        return False
    try:
        with transaction.atomic():
            told: dict[str, Any] = {"at": clock.now(), "by": viewer_of(request)}
            made = reminding.remind(party=who, level=level, asked_seen=seen, **told)
            if mail and who.email:
                mail_paper(paper=made.paper, to_name=who.name, to_email=who.email, **told)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return False
    return True
