"""The Celery app: where work in the background is rung for, and what the clock rings for by itself."""

import os

from celery import Celery
from celery.schedules import crontab
from kombu.transport import TRANSPORT_ALIASES

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "nursery.settings.development")
TRANSPORT_ALIASES["files"] = "nursery.file_broker:Transport"

app = Celery("heelin")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()

# Every periodic task may run late or twice: it picks what is due and not yet done.
app.conf.beat_schedule = {
    "ring for waiting jobs": {"task": "nursery.tasks.sweep", "schedule": 15.0},
    "send the morning's reminders": {"task": "care.tasks.send_reminders", "schedule": 300.0},
    "tell customers": {"task": "care.tasks.tell_customers", "schedule": 300.0},
    "mark doubtful clocks": {"task": "care.tasks.mark_doubtful_clocks", "schedule": 300.0},
    "follow looks and leavings": {"task": "care.tasks.follow_what_happened", "schedule": 300.0},
    # Before the morning's reminders: a new day is one more reading, or one more without.
    "reckon due days anew": {"task": "care.tasks.reckon_due_days", "schedule": crontab(minute="5,35")},
    # A machine that was off at night does these when it is switched on.
    "count what is open": {
        "task": "invoicing.tasks.recount_accounts",
        "schedule": crontab(hour="1", minute="20"),
    },
    "tidy": {"task": "nursery.tasks.tidy", "schedule": crontab(hour="1", minute="40")},
}
