"""For pytest. Embedded by default; SERVICES=1 uses the PostgreSQL and Redis given by their addresses."""

import tempfile
from pathlib import Path

from nursery.settings.base import *  # noqa: F403
from nursery.settings.base import BASE_DIR, DATABASES, SQLITE_OPTIONS, env

SERVICES = env.bool("SERVICES", default=False)
SECRET_KEY = "for tests only: signs nothing that outlives a test run, 64 characters"
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
SITE_URL = "http://testserver"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
MEDIA_ROOT = Path(tempfile.gettempdir()) / "heelin-test-files"
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
WHITENOISE_AUTOREFRESH = (
    True  # static files are looked for when asked for, not all of them by every test client
)
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

if SERVICES:
    # Emptying a table of frozen rows is allowed to the test runner alone.
    DATABASES["default"]["OPTIONS"] = {"options": "-c app.allow_purge=on -c synchronous_commit=off"}
    DATABASES["default"]["CONN_MAX_AGE"] = 0
else:
    # A file where browser tests serve pages from a second thread; in memory otherwise.
    name = env.str("TEST_DATABASE_NAME", default=":memory:")
    DATABASES["default"] = {
        "ENGINE": "nursery.sqlite",
        "NAME": ":memory:",
        "OPTIONS": SQLITE_OPTIONS,
        "TEST": {"NAME": name if name == ":memory:" else str(BASE_DIR / name)},
    }
    CELERY_BROKER_URL = "memory://"
    CELERY_BROKER_TRANSPORT_OPTIONS = {}
