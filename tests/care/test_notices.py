"""What customers are told by e-mail: treated on, next on; another day when it moves; once, and not at night."""

import pytest
from django.core import mail as outbox

from boarding.actions.stays import send_away
from care.actions import due, notices
from care.models import CustomerNotice, DueItem, Plan, ToldTreatment
from nursery.actions.parties import link_party
from nursery.models import Party
from tests.factories import PartyFactory
from tests.notice_scenes import brushed, done, june, moved_to, plan_that_tells, planned, reachable, sweep
from tests.scenes import Scene, at

pytestmark = [pytest.mark.django_db, pytest.mark.engine]
LOCMEM = "django.core.mail.backends.locmem.EmailBackend"
OLIVE = "Olive, twisted trunk"


@pytest.fixture
def scene() -> Scene:
    return reachable()


# ---- treated on, next on -----------------------------------------------------------------------------------------


def test_the_mail_as_the_customer_reads_it(scene):
    brushed(scene)
    assert sweep(at(4, 10, 30)) == 1
    (mail,) = outbox.outbox
    assert (mail.to, mail.reply_to) == (["nuala@customer.example"], ["office@derrynavail.example"])
    assert mail.subject == f"{OLIVE}: treated on Thu 4 June 2026, next on Thu 11 June 2026"
    assert mail.body == (
        "Good day Nuala Brackenridge,\n"
        "\n"
        "your tree with us, Olive, twisted trunk (tag DN-0412), was treated on Thu 4 June 2026:\n"
        "brushed by hand.\n"
        "\n"
        "Next on Thu 11 June 2026: brushing by hand.\n"
        "\n"
        "That day is our best estimate. It follows the weather: warmth brings it nearer, cold and wet put it off.\n"
        "If it moves by more than two days, we write again.\n"
        "\n"
        "Questions? Telephone 0404 000000, or answer this mail.\n"
        "\n"
        "Derrynavail Nursery\n"
        "\n"
        "You get this because you agreed to be told of treatments. Say so if you would rather not.\n"
    )


def test_it_names_no_bench_no_price_and_nobody_else(scene):
    brushed(scene)
    sweep(at(4, 11))
    text = outbox.outbox[0].subject + str(outbox.outbox[0].body)
    for other in (scene.entrance.name, scene.grower.first_name, "€", "EUR", "Armoured"):
        assert other not in text


@pytest.mark.parametrize(("when", "sent"), [(at(4, 10, 29), 0), (at(4, 10, 30), 1)])
def test_not_before_the_stop_has_settled(scene, when, sent):
    brushed(scene)  # until 10:00
    assert sweep(when) == sent


def test_often_sends_once(scene):
    brushed(scene)
    assert [sweep(at(4, hour)) for hour in (11, 12, 13)] == [1, 0, 0]
    assert ToldTreatment.objects.count() == 1


def test_two_steps_of_a_day_are_one_mail(scene):
    plan = plan_that_tells(scene.stay, scene.grower, at(3, 12))
    done(planned(plan, "brush", june(4), at(3, 12)), scene.grower, at(4))
    jet = planned(plan, "jet", june(4), at(4, 10))
    assert sweep(at(4, 11)) == 0  # the jet follows today
    done(jet, scene.grower, at(4, 11, 30), 20)
    planned(plan, "inspect", june(18), at(4, 12))
    assert sweep(at(4, 12)) == 0
    assert sweep(at(4, 12, 20)) == 1
    body = str(outbox.outbox[0].body)
    assert "was treated on Thu 4 June 2026:\nbrushed by hand and jetted with water.\n" in body
    assert "Next on Thu 18 June 2026: a look at it through the lens.\n" in body
    assert ToldTreatment.objects.count() == 2


def test_what_did_not_follow_that_day_is_told_the_next_without_a_day_that_has_passed(scene):
    plan = plan_that_tells(scene.stay, scene.grower, at(3, 12))
    done(planned(plan, "brush", june(4), at(3, 12)), scene.grower, at(4))
    planned(plan, "jet", june(4), at(4, 10))
    assert sweep(at(5, 9)) == 1
    assert outbox.outbox[0].subject == f"{OLIVE}: treated on Thu 4 June 2026, next as soon as we can"


def test_treatments_of_several_days_are_listed(scene):
    plan = plan_that_tells(scene.stay, scene.grower, at(3, 12))
    done(planned(plan, "brush", june(4), at(3, 12)), scene.grower, at(4))
    done(planned(plan, "jet", june(5), at(4, 12)), scene.grower, at(5))
    planned(plan, "inspect", june(18), at(5, 12))
    sweep(at(5, 12))
    assert "was treated:\n\n- on Thu 4 June 2026: brushed by hand\n- on Fri 5 June 2026: jetted" in str(
        outbox.outbox[0].body
    )


def test_it_waits_for_the_confirmation_and_for_the_next_step(scene):
    plan = plan_that_tells(scene.stay, scene.grower, at(3, 12))
    item = done(planned(plan, "brush", june(4), at(3, 12)), scene.grower, at(4), confirmed=False)
    assert sweep(at(4, 12)) == 0
    entry = item.done_entry
    entry.confirmed_at, entry.confirmed_by = at(4, 12, 5), scene.grower
    entry.save(update_fields=["confirmed_at", "confirmed_by"])
    assert sweep(at(4, 12, 10)) == 0
    planned(plan, "brush", june(11), at(4, 12, 20), round_no=2)
    assert sweep(at(4, 12, 30)) == 1


def without_a_yes(scene):
    Plan.objects.update(tells_customer=False)


def without_an_address(scene):
    Party.objects.update(email="")


def struck_out(scene):
    entry = DueItem.objects.get(state="done").done_entry
    entry.struck_out_at, entry.struck_out_by, entry.struck_out_why = at(4, 11), scene.grower, "another tree"
    entry.save()


def after_the_plan(scene):
    Plan.objects.update(state="success", ended_at=at(4, 11), ended_why="clean")


def after_the_handback(scene):
    type(scene.stay).objects.update(state="handed_back", left_at=at(4, 11))


def after_a_death(scene):
    Party.objects.update(died_on=june(4))


@pytest.mark.parametrize(
    "change",
    [without_a_yes, without_an_address, struck_out, after_the_plan, after_the_handback, after_a_death],
)
def test_nothing_goes(scene, change):
    brushed(scene)
    change(scene)
    assert sweep(at(4, 12)) == 0
    assert not CustomerNotice.objects.exists()


def test_what_was_done_weeks_ago_is_no_news(scene):
    brushed(scene)
    assert sweep(at(18, 11)) == 0


def test_the_contact_for_consent_is_told_where_the_owner_has_no_address(scene):
    friend = PartyFactory(name="Fergal Toomey", email="fergal@customer.example")
    link_party(tree=scene.tree, party=friend, role="contact", on=june(3), at=at(3, 12), by=scene.proprietor)
    brushed(scene)
    Party.objects.filter(pk=scene.owner.pk).update(email="")
    assert sweep(at(4, 12)) == 1
    assert outbox.outbox[0].to == ["fergal@customer.example"]


def test_a_tree_shown_elsewhere_is_still_told_of(scene):
    brushed(scene)
    send_away(stay=scene.stay, reason="Shown in Wicklow", place_kept=True, at=at(4, 11), by=scene.grower)
    assert sweep(at(4, 12)) == 1


# ---- another day -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("day", "sent"), [(9, 0), (13, 0), (14, 1), (8, 1)])
def test_more_than_two_days_from_what_was_told(scene, day, sent):
    brushed(scene)  # next on the 11th
    sweep(at(4, 11))
    moved_to(day)
    assert sweep(at(5, 9)) == sent


def test_the_mail_about_another_day(scene):
    brushed(scene)
    sweep(at(4, 11))
    moved_to(15)
    sweep(at(5, 9))
    mail = outbox.outbox[-1]
    assert mail.subject == f"{OLIVE}: next on Mon 15 June 2026, not on Thu 11 June 2026"
    assert str(mail.body).startswith(
        "Good day Nuala Brackenridge,\n"
        "\n"
        "we wrote that the next step for your tree with us, Olive, twisted trunk (tag DN-0412), comes on Thu 11 "
        "June 2026.\n"
        "That day has moved: it is 4 days later now.\n"
        "\n"
        "Next on Mon 15 June 2026: brushing by hand.\n"
    )


def test_each_day_told_is_replaced_once_and_small_steps_add_up(scene):
    brushed(scene)
    sweep(at(4, 11))
    days = []
    for day, moved in ((5, 13), (6, 14), (7, 16), (8, 17)):
        moved_to(moved)
        days += [(day, moved)] * (sweep(at(day)) + sweep(at(day, 10)))
    assert days == [(6, 14), (8, 17)]
    first, second, third = CustomerNotice.objects.order_by("pk")
    assert (second.replaces, third.replaces) == (first, second)


def test_a_person_who_puts_it_off_moves_it_too(scene):
    brushed(scene)
    sweep(at(4, 11))
    item = DueItem.objects.get(state="open")
    due.put_off(item=item, to=june(16), why="rain", at=at(5), by=scene.grower)
    assert sweep(at(5, 10)) == 1
    assert CustomerNotice.objects.get(about="moved").next_on == june(16)


def test_what_the_plan_has_in_the_place_of_what_fell_away_moves_it_too(scene):
    plan = brushed(scene)
    sweep(at(4, 11))
    due.fall_away(item=DueItem.objects.get(state="open"), why="Reckoned anew", at=at(5), by=scene.grower)
    assert sweep(at(5, 10)) == 0
    planned(plan, "brush", june(15), at(5, 10), round_no=2)
    assert sweep(at(5, 11)) == 1


def test_a_day_nobody_was_told_is_not_replaced(scene):
    brushed(scene)
    notices.claim_notices(at=at(4, 11))
    moved_to(20)
    assert notices.claim_notices(at=at(4, 12)) == []


def test_what_is_done_earlier_is_told_as_done(scene):
    brushed(scene)
    sweep(at(4, 11))
    done(DueItem.objects.get(state="open"), scene.grower, at(8))
    assert sweep(at(8, 12)) == 0
