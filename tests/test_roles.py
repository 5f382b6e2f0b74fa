"""Who gets what: every address of the project, asked by nobody and by every role, read and pressed.

The table is written by hand from what each role may do: growers check in, look, hand back, clock and move; the office
besides keeps people, drafts, issues and receives money; the proprietor alone puts prices in force, allows exceptions,
signs certificates, disposes, invites and lets go. What the table does not name fails the test, so that a new address
is decided here first.

One line an address: what a read brings nobody, grower, office, proprietor; then what pressing an empty form brings.
"in" is led to the sign-in page; a number is the answer itself; 302 after a press is the page that follows.
"""

from html.parser import HTMLParser

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver, resolve, reverse

from nursery.middleware import RefuseUnnamed
from tests.small_house import NOW, small_house

pytestmark = pytest.mark.django_db
ROLES = ("nobody", "grower", "office", "proprietor")
TABLE = """
sign_in                200 302 302 302 | 200 302 302 302
sign_out                in 405 405 405 |  in  in  in  in
first_page              in  in  in  in |  in  in  in  in
invitation             200 200 200 200 | 200 200 200 200
password_forgotten     200 200 200 200 | 200 200 200 200
password_link_sent     200 200 200 200 | 405 405 405 405
password_choose        410 410 410 410 | 410 410 410 410
myself                  in 200 200 200 |  in 200 200 200
password_change         in 200 200 200 |  in 200 200 200
people_at_work          in 403 403 200 |  in 403 403 405
invite                  in 403 403 200 |  in 403 403 200
person                  in 403 403 200 |  in 403 403 405
person_change           in 403 403 200 |  in 403 403 200
person_let_go           in 403 403 200 |  in 403 403 200
person_invite_again     in 403 403 405 |  in 403 403 302
nursery_details         in 403 403 200 |  in 403 403 200
set_up                  in 403 403 200 |  in 403 403 405
bench_add               in 403 200 200 |  in 403 200 200
bench_change            in 403 200 200 |  in 403 200 200
bench_close             in 403 200 200 |  in 403 200 200
bench_open              in 403 405 405 |  in 403 302 302
people                  in 403 200 200 |  in 403 405 405
party_find              in 200 200 200 |  in 405 405 405
party_add               in 200 200 200 |  in 200 200 200
party                   in 200 200 200 |  in 405 405 405
party_change            in 403 200 200 |  in 403 200 200
party_address           in 403 200 200 |  in 403 200 200
party_answer            in 403 200 200 |  in 403 200 200
mail_came_back          in 403 405 405 |  in 403 302 302
mail_arrives            in 403 405 405 |  in 403 302 302
party_died              in 403 200 200 |  in 403 200 200
heir_note               in 403 200 200 |  in 403 200 200
tree_add                in 200 200 200 |  in 200 200 200
tree_change             in 200 200 200 |  in 200 200 200
tree_determine          in 200 200 200 |  in 200 200 200
tree_people             in 200 200 200 |  in 405 405 405
link_add                in 403 302 302 |  in 403 302 302
tree_owner              in 403 302 302 |  in 403 200 200
link_end                in 403 405 405 |  in 403 302 302
tag_give                in 200 200 200 |  in 200 200 200
tag_retire              in 200 200 200 |  in 200 200 200
taxon_find              in 200 200 200 |  in 405 405 405
taxon_prone             in 200 200 200 |  in 405 405 405
find                    in 200 200 200 |  in 405 405 405
audit_trail             in 403 403 200 |  in 403 403 405
kept_file               in 200 200 200 |  in 405 405 405
paper                   in 200 200 200 |  in 405 405 405
paper_file              in 302 302 302 |  in 405 405 405
paper_mail              in 403 405 405 |  in 403 404 404
month_ends              in 403 200 200 |  in 403 200 200
month_end               in 403 200 200 |  in 403 405 405
month_end_issue         in 403 405 405 |  in 403 200 200
month_end_again         in 403 405 405 |  in 403 302 302
month_end_stop          in 403 405 405 |  in 403 302 302
month_end_end           in 403 405 405 |  in 403 302 302
jobs_given_up           in 403 403 200 |  in 403 403 405
job_again               in 403 403 405 |  in 403 403 302
gate                    in 200 200 200 |  in 405 405 405
announce                in 200 200 200 |  in 405 405 405
announce_tree           in 200 200 200 |  in 200 200 200
terms                   in 403 200 200 |  in 403 405 405
terms_sample            in 403 405 405 |  in 403 302 302
terms_add               in 403 403 200 |  in 403 403 200
visit_open              in 405 405 405 |  in 302 302 302
visit                   in 200 200 200 |  in 405 405 405
visit_customer          in 200 200 200 |  in 200 200 200
visit_customer_new      in 200 200 200 |  in 200 200 200
visit_trees             in 200 200 200 |  in 405 405 405
visit_tree_new          in 200 200 200 |  in 200 200 200
visit_tree_add          in 405 405 405 |  in 302 302 302
visit_tree_drop         in 200 200 200 |  in 200 200 200
visit_day_work          in 405 405 405 |  in 302 302 302
visit_agreement         in 200 200 200 |  in 200 200 200
visit_means             in 200 200 200 |  in 200 200 200
visit_report            in 200 200 200 |  in 200 200 200
visit_look              in 200 200 200 |  in 200 200 200
visit_photos            in 200 200 200 |  in 405 405 405
visit_photo             in 405 405 405 |  in 422 422 422
visit_place             in 200 200 200 |  in 200 200 200
visit_sign              in 200 200 200 |  in 200 200 200
visit_done              in 302 302 302 |  in 405 405 405
visit_abandon           in 200 200 200 |  in 200 200 200
stay_receive            in 405 405 405 |  in 302 302 302
stay_ready              in 200 200 200 |  in 200 200 200
stay_take_back          in 200 200 200 |  in 200 200 200
stay_send_away          in 200 200 200 |  in 200 200 200
stay_bring_back         in 200 200 200 |  in 200 200 200
stay_turn_away          in 200 200 200 |  in 200 200 200
stay_never_came         in 200 200 200 |  in 200 200 200
stay_death              in 200 200 200 |  in 200 200 200
stay_remains_over       in 403 200 200 |  in 403 200 200
stay_remains_gone       in 403 403 200 |  in 403 403 200
notice_send             in 403 200 200 |  in 403 200 200
stay_dispose            in 403 403 200 |  in 403 403 200
stay_free_night         in 403 200 200 |  in 403 200 200
stay_price              in 403 200 200 |  in 403 200 200
stay_expected           in 200 200 200 |  in 302 302 302
stay_isolation          in 200 200 200 |  in 200 200 200
stay_day_work           in 403 405 405 |  in 403 302 302
benches                 in 200 200 200 |  in 405 405 405
bench                   in 200 200 200 |  in 405 405 405
move_find               in 200 200 200 |  in 405 405 405
tree_move               in 200 200 200 |  in 200 200 200
hold_add                in 403 403 200 |  in 403 403 200
hold_lift               in 403 403 200 |  in 403 403 200
override_end            in 403 403 405 |  in 403 403 302
tag                     in 302 302 302 |  in 405 405 405
tag_labels              in 200 200 200 |  in 405 405 405
trees                   in 200 200 200 |  in 405 405 405
tree                    in 200 200 200 |  in 405 405 405
contact_named           in 200 200 200 |  in 200 200 200
notifiable              in 200 200 200 |  in 200 200 200
unit_hold               in 405 405 405 |  in 302 302 302
notifiable_release      in 403 403 200 |  in 403 403 200
movements               in 403 200 200 |  in 403 405 405
photos                  in 200 200 200 |  in 405 405 405
stay                    in 200 200 200 |  in 405 405 405
weather                 in 200 200 200 |  in 405 405 405
weather_day             in 200 200 200 |  in 200 200 200
weather_days            in 200 200 200 |  in 405 405 405
weather_trees           in 200 200 200 |  in 405 405 405
weather_files           in 403 200 200 |  in 403 200 200
weather_columns         in 403 200 200 |  in 403 200 200
weather_file            in 403 200 200 |  in 403 405 405
weather_file_take       in 403 405 405 |  in 403 302 302
weather_file_throw_away in 403 405 405 |  in 403 302 302
thermometers            in 403 200 200 |  in 403 200 200
thermometer_add         in 403 200 200 |  in 403 200 200
thermometer_change      in 403 200 200 |  in 403 200 200
thermometer_close       in 403 405 405 |  in 403 302 302
climate                 in 403 200 200 |  in 403 200 200
then_and_now            in 200 200 200 |  in 200 200 200
photos_now              in 200 200 200 |  in 405 405 405
photo_now               in 405 405 405 |  in 422 422 422
contact_cases           in 200 200 200 |  in 405 405 405
contact_case            in 200 200 200 |  in 405 405 405
contact_open            in 405 405 405 |  in 302 302 302
contact_fix             in 405 405 405 |  in 302 302 302
contact_add             in 200 200 200 |  in 200 200 200
contact_close           in 403 405 405 |  in 403 302 302
contact_tell            in 403 200 200 |  in 403 200 200
today                   in 200 200 200 |  in 405 405 405
activities_begin        in 200 200 200 |  in 405 405 405
activities_load         in 403 403 405 |  in 403 403 302
reminders               in 403 200 200 |  in 403 405 405
reminder_seen           in 403 405 405 |  in 403 302 302
notice                  in 403 200 200 |  in 403 405 405
notice_seen             in 403 405 405 |  in 403 302 302
clock                   in 200 200 200 |  in 405 405 405
clock_scan              in 405 405 405 |  in 200 200 200
clock_start             in 405 405 405 |  in 302 302 302
clock_stop              in 405 405 405 |  in 302 302 302
clock_pause             in 405 405 405 |  in 302 302 302
clock_resume            in 405 405 405 |  in 302 302 302
clock_take_back         in 405 405 405 |  in 302 302 302
clock_cards             in 200 200 200 |  in 405 405 405
entries                 in 200 200 200 |  in 405 405 405
work_minutes            in 200 200 200 |  in 405 405 405
entry_write             in 200 200 200 |  in 200 200 200
entry                   in 200 200 200 |  in 405 405 405
entry_confirm           in 200 200 200 |  in 200 200 200
entry_correct           in 200 200 200 |  in 200 200 200
entry_cut               in 200 200 200 |  in 200 200 200
entry_reassign          in 200 200 200 |  in 200 200 200
entry_strike_out        in 200 200 200 |  in 200 200 200
entry_not_charge        in 403 200 200 |  in 403 200 200
work_ahead              in 200 200 200 |  in 405 405 405
person_hours            in 403 200 200 |  in 403 302 302
person_hours_other      in 403 200 200 |  in 403 200 200
person_hours_usual_again in 403 405 405 |  in 403 302 302
calendar_feed          200 200 200 200 | 405 405 405 405
calendar_make           in 405 405 405 |  in 200 200 200
calendar_end            in 405 405 405 |  in 302 302 302
due_item_add            in 200 200 200 |  in 200 200 200
due_item                in 200 200 200 |  in 405 405 405
due_item_done           in 405 405 405 |  in 302 302 302
due_item_put_off        in 200 200 200 |  in 200 200 200
due_item_fall_away      in 200 200 200 |  in 200 200 200
plans                   in 200 200 200 |  in 405 405 405
plan                    in 200 200 200 |  in 405 405 405
plan_draw_up            in 200 200 200 |  in 200 200 200
plan_verb               in 405 405 405 |  in 302 302 302
plan_telling            in 403 405 405 |  in 403 302 302
plan_pause              in 200 200 200 |  in 200 200 200
plan_another_round      in 200 200 200 |  in 200 200 200
plan_end                in 200 200 200 |  in 200 200 200
programmes              in 200 200 200 |  in 405 405 405
programme               in 200 200 200 |  in 405 405 405
programme_add           in 403 200 200 |  in 403 200 200
programmes_load         in 403 405 405 |  in 403 302 302
programme_change        in 403 200 200 |  in 403 200 200
programme_retire        in 403 200 200 |  in 403 200 200
programme_step_add      in 403 200 200 |  in 403 200 200
programme_step          in 403 200 200 |  in 403 200 200
programme_step_drop     in 403 405 405 |  in 403 302 302
retreatment             in 200 200 200 |  in 200 200 200
retreatment_end         in 200 200 200 |  in 200 200 200
materials               in 403 200 200 |  in 403 405 405
material_add            in 403 200 200 |  in 403 200 200
material_change         in 403 200 200 |  in 403 200 200
material_retire         in 403 405 405 |  in 403 302 302
pests                   in 200 200 200 |  in 405 405 405
pest                    in 200 200 200 |  in 405 405 405
figure_hold             in 403 403 200 |  in 403 403 200
figure_own              in 403 403 200 |  in 403 403 200
figure_let_go           in 403 403 405 |  in 403 403 302
care_notes              in 200 200 200 |  in 405 405 405
care_note_add           in 403 200 200 |  in 403 200 200
care_note_change        in 403 200 200 |  in 403 200 200
care_note_retire        in 403 405 405 |  in 403 302 302
material_use            in 200 200 200 |  in 200 200 200
material_strike_out     in 200 200 200 |  in 200 200 200
look_add                in 200 200 200 |  in 200 200 200
handback                in 200 200 200 |  in 200 200 200
certificate_sign        in 403 403 405 |  in 403 403 302
certificates            in 200 200 200 |  in 405 405 405
certificate             in 200 200 200 |  in 405 405 405
certificate_withdraw    in 403 403 405 |  in 403 403 200
money                   in 403 200 200 |  in 403 405 405
account                 in 403 200 200 |  in 403 405 405
payment_add             in 403 200 200 |  in 403 200 200
deposit_ask             in 403 200 200 |  in 403 200 200
security_take           in 403 200 200 |  in 403 200 200
statement               in 403 200 200 |  in 403 405 405
statement_print         in 403 405 405 |  in 403 302 302
vat_figures             in 403 200 200 |  in 403 405 405
journal                 in 403 200 200 |  in 403 405 405
journal_file            in 403 200 200 |  in 403 405 405
journal_accounts        in 403 403 200 |  in 403 403 200
bank_files              in 403 200 200 |  in 403 200 200
bank_file               in 403 200 200 |  in 403 405 405
bank_columns            in 403 302 302 |  in 403 302 302
bank_book               in 403 405 405 |  in 403 302 302
bank_drop               in 403 405 405 |  in 403 302 302
bank_row                in 403 200 200 |  in 403 200 200
party_prices            in 403 200 200 |  in 403 405 405
party_price_agree       in 403 403 405 |  in 403 403 200
party_vat               in 403 200 200 |  in 403 200 200
bills_to_remind         in 403 200 200 |  in 403 200 200
reminder_preview        in 403 302 302 |  in 403 405 405
reminder_rules          in 403 200 200 |  in 403 405 405
reminder_rules_write    in 403 403 405 |  in 403 403 200
e_invoice_note          in 403 200 200 |  in 403 200 200
late_terms_add          in 403 403 200 |  in 403 403 200
late_terms_drop         in 403 403 405 |  in 403 403 302
interest_keep           in 403 200 200 |  in 403 200 200
interest_back           in 403 200 200 |  in 403 200 200
payment_unclear         in 403 200 200 |  in 403 200 200
payment                 in 403 200 200 |  in 403 405 405
payment_against         in 403 200 200 |  in 403 200 200
payment_give            in 403 200 200 |  in 403 200 200
payment_refund          in 403 200 200 |  in 403 200 200
payment_reverse         in 403 200 200 |  in 403 200 200
payment_receipt         in 403 405 405 |  in 403 302 302
invoice_write_off       in 403 403 200 |  in 403 403 200
write_off_back          in 403 403 200 |  in 403 403 200
invoice_draw_up         in 403 405 405 |  in 403 302 302
invoice                 in 403 200 200 |  in 403 405 405
credit_cii              in 403 200 200 |  in 403 405 405
credit_ubl              in 403 200 200 |  in 403 405 405
invoice_cii             in 403 302 302 |  in 403 405 405
invoice_ubl             in 403 302 302 |  in 403 405 405
invoice_issue           in 403 405 405 |  in 403 200 200
invoice_discard         in 403 405 405 |  in 403 302 302
invoice_credit          in 403 302 302 |  in 403 302 302
invoice_dispute         in 403 302 302 |  in 403 302 302
dispute_settle          in 403 200 200 |  in 403 200 200
invoice_use_credit      in 403 405 405 |  in 403 302 302
estimate_add            in 403 200 200 |  in 403 200 200
estimates               in 403 200 200 |  in 403 405 405
estimate_discard        in 403 405 405 |  in 403 302 302
estimate                in 403 200 200 |  in 403 405 405
estimate_version        in 403 200 200 |  in 403 200 200
estimate_offer          in 403 405 405 |  in 403 302 302
estimate_answer         in 403 200 200 |  in 403 200 200
estimate_finish         in 403 405 405 |  in 403 302 302
stay_tariff             in 403 200 200 |  in 403 200 200
stay_class              in 200 200 200 |  in 200 200 200
goodwill_give           in 403 200 200 |  in 403 200 200
goodwill_take_back      in 403 405 405 |  in 403 302 302
rates                   in 403 200 200 |  in 403 405 405
vat_rate_add            in 403 403 200 |  in 403 403 200
rate_card_next          in 403 403 405 |  in 403 403 200
rate_card               in 403 200 200 |  in 403 405 405
rate_card_prices        in 403 403 405 |  in 403 403 200
rate_card_drop          in 403 403 405 |  in 403 403 302
"""


def table():
    """Name of an address -> {"GET" or "POST": outcome per role}."""
    rows = {}
    for line in TABLE.strip().splitlines():
        name, *outcomes = line.replace("|", " ").split()
        assert len(outcomes) == 8, f"{name} needs four outcomes of reading and four of pressing"
        assert name not in rows, f"{name} stands in the table twice"
        rows[name] = {"GET": outcomes[:4], "POST": outcomes[4:]}
    return rows


def walk(patterns, before=""):
    """(name, pattern, whole route) of every address but those of the framework's admin."""
    for found in patterns:
        route = before + str(found.pattern)
        if isinstance(found, URLResolver):
            if found.app_name != "admin":
                yield from walk(found.url_patterns, route)
        elif isinstance(found, URLPattern):
            yield found.name, found, route


ADDRESSES = {name: (pattern, route) for name, pattern, route in walk(get_resolver().url_patterns)}


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker, tmp_path_factory):
    """Built once for all; every request below is undone."""
    files = tmp_path_factory.mktemp("house") / "files"
    with django_db_blocker.unblock(), transaction.atomic(), time_machine.travel(NOW, tick=False):
        with override_settings(MEDIA_ROOT=files):
            built = small_house()
        yield built, files
        transaction.set_rollback(True)


def outcome(house, role, method, address):
    client = Client()
    with transaction.atomic():
        if role != "nobody":
            client.force_login(house.people[role], backend="django.contrib.auth.backends.ModelBackend")
        answer = client.get(address) if method == "GET" else client.post(address)
        answer.close()
        transaction.set_rollback(True)
    to_sign_in = answer.status_code == 302 and answer["Location"].startswith("/sign-in/")
    return "in" if to_sign_in else str(answer.status_code)


def test_the_table_names_every_address_and_no_other():
    assert sorted(table()) == sorted(ADDRESSES)


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("role", ROLES)
def test_every_address_gives_each_what_is_theirs(house, role, method, settings):
    house, settings.MEDIA_ROOT = house
    expected, got = {}, {}
    for name, row in table().items():
        pattern, route = ADDRESSES[name]
        arguments = house.arguments(route, set(pattern.pattern.converters))
        expected[name] = row[method][ROLES.index(role)]
        address = reverse(name, kwargs=arguments) + house.questions.get(name, "")
        got[name] = outcome(house, role, method, address)
    assert got == expected


def test_the_reference_tables_are_the_proprietors_alone(house):
    """The framework's admin: whoever else comes is asked to sign in as somebody else."""
    house, _ = house
    addresses = [
        reverse("admin:index"),
        reverse("admin:nursery_taxon_changelist"),
        reverse("admin:nursery_taxon_add"),
    ]
    for address in addresses:
        answers = [admin_answer(house, role, address) for role in ROLES]
        assert answers == [302, 302, 302, 200], address


def admin_answer(house, role, address):
    client = Client()
    if role != "nobody":
        client.force_login(house.people[role], backend="django.contrib.auth.backends.ModelBackend")
    return client.get(address).status_code


def test_a_view_that_names_no_roles_is_refused_to_everybody(house, rf):
    """What is not named is refused: also to the proprietor."""
    house, _ = house
    request = rf.get("/")
    request.user = house.people["proprietor"]
    with pytest.raises(PermissionDenied):
        RefuseUnnamed(lambda _: None).process_view(request, lambda _: None, (), {})


class Ways(HTMLParser):
    """Where the links and forms of a page lead, within the nursery."""

    def __init__(self, text):
        super().__init__()
        self.found = set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        where = told.get("href") if tag == "a" else told.get("action") if tag == "form" else None
        if where and where.startswith("/") and not where.startswith("/static/"):
            self.found.add(where.partition("?")[0].partition("#")[0])


def pages_of(house):
    """The address of every page that can be read, and of every tree and stay in each state."""
    for name, (pattern, route) in ADDRESSES.items():
        if table()[name]["GET"][ROLES.index("proprietor")] == "200":
            arguments = house.arguments(route, set(pattern.pattern.converters))
            yield reverse(name, kwargs=arguments) + house.questions.get(name, "")
    for stay in house.stays.values():
        yield reverse("stay", args=[stay.pk])
        yield reverse("tree", args=[stay.tree_id])
        yield reverse("handback", args=[stay.pk])


@pytest.mark.parametrize("role", ROLES[1:])
def test_no_page_offers_what_its_reader_may_not_do(house, role, settings):
    """Every link and every button leads to an address that exists and that names the reader's role."""
    house, settings.MEDIA_ROOT = house
    client, refused, read = Client(), [], 0
    client.force_login(house.people[role], backend="django.contrib.auth.backends.ModelBackend")
    for page in pages_of(house):
        answer = client.get(page)
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            read += 1
            refused += [
                f"{page} leads to {way}"
                for way in Ways(answer.text).found
                if not may_go(way, house.people[role])
            ]
    assert not refused, "\n".join(refused)
    assert read > 60


def may_go(way, person):
    if way.startswith("/admin/"):
        return person.role == "proprietor"
    roles = resolve(way).func.permitted_roles
    return person.role in roles or "public" in roles
