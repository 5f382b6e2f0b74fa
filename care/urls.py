"""Addresses of the care pages."""

from django.urls import URLPattern, URLResolver, path

from care.urls_contacts import urlpatterns as contacts
from care.urls_papers import urlpatterns as papers
from care.urls_pests import urlpatterns as pests
from care.urls_plans import urlpatterns as plans
from care.urls_weather import urlpatterns as weather
from care.views import clock, due, entries, feeds, learned, materials, notices, reminders, today, workload

clock_pages: list[URLPattern | URLResolver] = [
    path("clock/", clock.clock_now, name="clock"),
    path("clock/scan/", clock.clock_scan, name="clock_scan"),
    path("clock/start/", clock.clock_start, name="clock_start"),
    path("clock/stop/", clock.clock_stop, name="clock_stop"),
    path("clock/pause/", clock.clock_pause, name="clock_pause"),
    path("clock/go-on/", clock.clock_resume, name="clock_resume"),
    path("clock/cards/", clock.clock_cards, name="clock_cards"),
    path("clock/<int:pk>/take-back/", clock.clock_take_back, name="clock_take_back"),
]
entry_pages: list[URLPattern | URLResolver] = [
    path("work/", entries.entries, name="entries"),
    path("work/minutes/", learned.work_minutes, name="work_minutes"),
    path("work/write/", entries.entry_write, name="entry_write"),
    path("work/<int:pk>/", entries.entry, name="entry"),
    path("work/<int:pk>/confirm/", entries.entry_confirm, name="entry_confirm"),
    path("work/<int:pk>/correct/", entries.entry_correct, name="entry_correct"),
    path("work/<int:pk>/cut/", entries.entry_cut, name="entry_cut"),
    path("work/<int:pk>/other-tree/", entries.entry_reassign, name="entry_reassign"),
    path("work/<int:pk>/strike-out/", entries.entry_strike_out, name="entry_strike_out"),
    path("work/<int:pk>/not-charge/", entries.entry_not_charge, name="entry_not_charge"),
]
due_pages: list[URLPattern | URLResolver] = [
    path("due/write/", due.due_item_add, name="due_item_add"),
    path("due/<int:pk>/", due.due_item, name="due_item"),
    path("due/<int:pk>/done/", due.due_item_done, name="due_item_done"),
    path("due/<int:pk>/put-off/", due.due_item_put_off, name="due_item_put_off"),
    path("due/<int:pk>/fall-away/", due.due_item_fall_away, name="due_item_fall_away"),
    path("trees/<int:tree>/again/", due.retreatment, name="retreatment"),
    path("again/<int:pk>/end/", due.retreatment_end, name="retreatment_end"),
]
hour_pages: list[URLPattern | URLResolver] = [
    path("workload/", workload.work_ahead, name="work_ahead"),
    path("people-at-work/<int:pk>/hours/", workload.person_hours, name="person_hours"),
    path("people-at-work/<int:pk>/hours/other/", workload.person_hours_other, name="person_hours_other"),
    path(
        "people-at-work/<int:pk>/hours/as-usual/",
        workload.person_hours_usual_again,
        name="person_hours_usual_again",
    ),
]
calendar_pages: list[URLPattern | URLResolver] = [
    path("calendar/<str:secret>.ics", feeds.calendar_feed, name="calendar_feed"),
    path("myself/calendar/", feeds.calendar_make, name="calendar_make"),
    path("myself/calendar/end/", feeds.calendar_end, name="calendar_end"),
]
material_pages: list[URLPattern | URLResolver] = [
    path("materials/", materials.materials, name="materials"),
    path("materials/add/", materials.material_add, name="material_add"),
    path("materials/<int:pk>/", materials.material_change, name="material_change"),
    path("materials/<int:pk>/retire/", materials.material_retire, name="material_retire"),
    path("trees/<int:tree>/materials/", materials.material_use, name="material_use"),
    path("materials/used/<int:pk>/strike-out/", materials.material_strike_out, name="material_strike_out"),
]
urlpatterns: list[URLPattern | URLResolver] = [
    path("", today.today, name="today"),
    path("kinds-of-work/", today.activities_begin, name="activities_begin"),
    path("kinds-of-work/usual/", today.activities_load, name="activities_load"),
    path("reminders/", reminders.reminders, name="reminders"),
    path("reminders/<int:pk>/seen/", reminders.reminder_seen, name="reminder_seen"),
    path("reminders/customers/<int:pk>/", notices.notice, name="notice"),
    path("reminders/customers/<int:pk>/seen/", notices.notice_seen, name="notice_seen"),
    *clock_pages,
    *entry_pages,
    *due_pages,
    *hour_pages,
    *calendar_pages,
    *material_pages,
    *papers,
    *plans,
    *contacts,
    *pests,
    *weather,
]
