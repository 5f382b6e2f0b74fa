"""The verbs of a stay, one address each: a page with what the verb asks, and a button that names what it does."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from boarding import querysets
from boarding.actions import stays, uncollected
from boarding.forms.gate import (
    AgreedPriceForm,
    AwayForm,
    BackForm,
    DisposalForm,
    ExpectedForm,
    FreeNightForm,
    IsolationForm,
    NothingForm,
    ReasonForm,
    RemainsForm,
    WhyForm,
)
from boarding.forms.uncollected import DisposeUnderNoticeForm
from boarding.models import Stay
from boarding.overviews.now import final_look_of
from boarding.overviews.visit import tag_of
from boarding.states import StayVerb, next_state, why_not
from nursery import clock, slots
from nursery.forms.fields import refusals_in
from nursery.once import once
from nursery.permissions import DESK, EVERYONE_AT_WORK, OWNER, permitted
from nursery.viewer import viewer_of
from nursery.ways import back_to, way


@dataclass(frozen=True)
class Page:
    """What a verb's page asks: question, what the button does, the form, the action, what is said afterwards."""

    question: str
    button: str
    form: Callable[..., forms.Form]
    act: Callable[..., Any]
    said: str
    verb: StayVerb | None = None
    help: str = ""
    ends: bool = False


READY = Page(
    "Is {tree} ready to go home?",
    "Make {tree} ready",
    NothingForm,
    stays.make_ready,
    "{tree} is ready.",
    StayVerb.MAKE_READY,
    "It needs a final inspection; no hold may stand on it and no re-entry time may run.",
)
TAKE_BACK = Page(
    "Why does {tree} go back into care?",
    "Take {tree} back into care",
    WhyForm,
    stays.take_back,
    "{tree} is in care again.",
    StayVerb.TAKE_BACK,
)
SEND_AWAY = Page(
    "Where does {tree} go for a while?",
    "Send {tree} away",
    AwayForm,
    stays.send_away,
    "{tree} is away.",
    StayVerb.SEND_AWAY,
    "The stay goes on. When it comes back it counts as not yet examined.",
)
BRING_BACK = Page(
    "Where does {tree} stand from now?",
    "Bring {tree} back",
    BackForm,
    stays.bring_back,
    "{tree} is back and not yet examined: look at it.",
    StayVerb.BRING_BACK,
)
TURN_AWAY = Page(
    "Why is {tree} turned away?",
    "Turn {tree} away",
    ReasonForm,
    stays.turn_away,
    "{tree} was turned away.",
    StayVerb.TURN_AWAY,
    ends=True,
)
NEVER_CAME = Page(
    "Did {tree} never come?",
    "Mark {tree} as never come",
    NothingForm,
    stays.mark_never_came,
    "{tree} is marked as never come.",
    StayVerb.NOT_COME,
    ends=True,
)
DEATH = Page(
    "What happened to {tree}?",
    "Record the death of {tree}",
    ReasonForm,
    stays.record_death,
    "The death of {tree} is recorded. Tell the owner today; keep remains and pot until the answer.",
    StayVerb.RECORD_DEATH,
    "Nights end today. Write neutrally what was found, and when.",
    ends=True,
)
REMAINS_OVER = Page(
    "Who takes the remains of {tree}?",
    "Hand over the remains",
    RemainsForm,
    stays.hand_over_remains,
    "The remains of {tree} were handed over.",
    StayVerb.HAND_OVER_REMAINS,
    ends=True,
)
REMAINS_GONE = Page(
    "Did the owner of {tree} agree?",
    "Dispose of the remains",
    DisposalForm,
    stays.dispose_of_remains,
    "The remains of {tree} were disposed of.",
    StayVerb.DISPOSE_OF_REMAINS,
    ends=True,
)
DISPOSE = Page(
    "Why is {tree} disposed of?",
    "Dispose of {tree} under notice",
    DisposeUnderNoticeForm,
    uncollected.dispose_under_notice,
    "{tree} was disposed of under notice.",
    StayVerb.DISPOSE_UNDER_NOTICE,
    "The signed terms and the law of the place decide whether this may be done at all: ask a lawyer first. What the "
    "tree brings beyond what is owed is kept for its owner.",
    ends=True,
)
FREE_NIGHT = Page(
    "Which night of {tree} is free?",
    "Grant this night",
    FreeNightForm,
    stays.grant_free_night,
    "The night is free.",
)
EXPECTED = Page(
    "When does {tree} go home?",
    "Keep this day",
    ExpectedForm,
    lambda *, stay, expected_out_on, at, by: stays.expect_out(stay=stay, on=expected_out_on, at=at, by=by),
    "The expected day is kept.",
)
AGREED_PRICE = Page(
    "What was agreed for {tree}?",
    "Keep this price",
    AgreedPriceForm,
    stays.agree_price,
    "The agreed price is kept.",
    help="A class 5 tree has no price on the rate card: agree the night and the room with the owner. "
    "Once the tree is in care the price holds for the whole stay.",
)
ISOLATION = Page(
    "When did the owner of {tree} agree to isolation?",
    "Write it down",
    IsolationForm,
    stays.agree_isolation,
    "The surcharge counts from that day.",
    help="Until the answer isolation is free, and nothing is treated.",
)


def answer(request: HttpRequest, pk: int, page: Page) -> HttpResponse:
    """Show the verb's page, or do the verb and lead back to the stay. Pages of an upper app may answer by it."""
    stay = get_object_or_404(Stay.objects.select_related("tree", "owner"), pk=pk)
    extra = {"benches": querysets.benches_open_on(clock.today())} if page.form is BackForm else {}
    form = page.form(request.POST if request.method == "POST" else None, **extra)
    if request.method == "POST" and form.is_valid():
        with refusals_in(form):
            page.act(stay=stay, at=clock.now(), by=viewer_of(request), **_named(form.cleaned_data))
            messages.success(request, page.said.format(tree=stay.tree))
            return redirect(back_to(request, way("stay", stay.pk) or reverse("gate")))
    words = {name: getattr(page, name).format(tree=stay.tree) for name in ("question", "button")}
    shown = {
        "stay": stay,
        "tag": tag_of(stay),
        "form": form,
        "page": page,
        "not_now": _not_now(stay, page),
        "first": _first(stay, page),
        "price": slots.pieces("isolation.price", stay, clock.today(), viewer_of(request))
        if page is ISOLATION
        else [],
        **words,
    }
    return render(request, "boarding/gate_verb.html", shown | {"back": back_to(request, "")})


def _named(typed: dict[str, Any]) -> dict[str, Any]:
    """The answers as the action names them."""
    return {{"bench": "to"}.get(name, name): value for name, value in typed.items()}


def _not_now(stay: Stay, page: Page) -> str:
    """Why the verb is not possible now; empty when it is, or when no state forbids it."""
    if page.verb is None or next_state(stay.lifeline, page.verb):
        return ""
    return why_not(stay.lifeline, page.verb)


def _first(stay: Stay, page: Page) -> tuple[str, str] | None:
    """What is done before the verb, and where, as long as it is missing."""
    address = way("look_add", stay.tree_id)
    if page.verb is not StayVerb.MAKE_READY or not address or final_look_of(stay):
        return None
    here = reverse("stay_ready", args=[stay.pk])
    return "Write down the final inspection", f"{address}?{urlencode({'for': 'final', 'back': here})}"


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Back into care at the last moment."""
    return answer(request, pk, TAKE_BACK)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Back from an absence."""
    return answer(request, pk, BRING_BACK)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_turn_away(request: HttpRequest, pk: int) -> HttpResponse:
    """Not taken in."""
    return answer(request, pk, TURN_AWAY)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_never_came(request: HttpRequest, pk: int) -> HttpResponse:
    """An announced tree that did not come."""
    return answer(request, pk, NEVER_CAME)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_death(request: HttpRequest, pk: int) -> HttpResponse:
    """It died in care."""
    return answer(request, pk, DEATH)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def stay_remains_over(request: HttpRequest, pk: int) -> HttpResponse:
    """The remains go home."""
    return answer(request, pk, REMAINS_OVER)


@permitted(*OWNER)
@require_http_methods(["GET", "POST"])
@once
def stay_remains_gone(request: HttpRequest, pk: int) -> HttpResponse:
    """The remains are disposed of with consent."""
    return answer(request, pk, REMAINS_GONE)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def stay_free_night(request: HttpRequest, pk: int) -> HttpResponse:
    """A night that is not charged."""
    return answer(request, pk, FREE_NIGHT)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_expected(request: HttpRequest, pk: int) -> HttpResponse:
    """Another day of collection."""
    return answer(request, pk, EXPECTED)


@permitted(*EVERYONE_AT_WORK)
@require_http_methods(["GET", "POST"])
@once
def stay_isolation(request: HttpRequest, pk: int) -> HttpResponse:
    """The owner agreed to the surcharge."""
    return answer(request, pk, ISOLATION)


@permitted(*DESK)
@require_http_methods(["GET", "POST"])
@once
def stay_price(request: HttpRequest, pk: int) -> HttpResponse:
    """The agreed price of a class 5 tree."""
    return answer(request, pk, AGREED_PRICE)


@permitted(*DESK)
@require_POST
@once
def stay_day_work(request: HttpRequest, pk: int) -> HttpResponse:
    """Mark as day work, or take the mark away."""
    stay = get_object_or_404(Stay, pk=pk)
    stays.mark_day_work(stay=stay, day_work="yes" in request.POST, at=clock.now(), by=viewer_of(request))
    return redirect(back_to(request, way("stay", stay.pk) or reverse("gate")))
