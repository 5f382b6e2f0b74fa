"""What holds everywhere. Values come from the environment through typed readers; each has a safe default.

NAME_FILE in place of NAME reads a value from a file, for secrets kept outside the environment.
"""

import datetime as dt
from pathlib import Path

import environ
from csp.constants import NONE, SELF

env = environ.FileAwareEnv()

BASE_DIR = Path(__file__).resolve().parent.parent.parent
VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / ".var")))
VAR_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)

# --- Who may reach it -------------------------------------------------------------------------------------------
DEBUG = False
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=[])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])
SITE_URL = env.str("SITE_URL", default="http://127.0.0.1:8000").rstrip("/")

# --- Parts ------------------------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "nursery.apps.NurseryConfig",
    "boarding.apps.BoardingConfig",
    "care.apps.CareConfig",
    "invoicing.apps.InvoicingConfig",
    "django_tables2",
    "django_htmx",
    "axes",
    "csp",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "nursery.middleware.RenewSession",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "nursery.middleware.RefuseUnnamed",
    "nursery.middleware.NoSuchAddress",
    "nursery.middleware.SayRefused",
    "nursery.middleware.OnNurseryTime",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "nursery.urls"
WSGI_APPLICATION = "nursery.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "nursery.context.page",
            ],
        },
    },
]
FORM_RENDERER = "nursery.renderers.DayBookForms"
INSTALLED_APPS += ["django.forms"]  # its own templates, found after ours
DJANGO_TABLES2_TEMPLATE = "tables/ruled.html"

# --- Database ---------------------------------------------------------------------------------------------------
# SQLite: an immediate lock replaces SELECT FOR UPDATE, which SQLite does not have; recursive_triggers because
# INSERT OR REPLACE otherwise walks round a guard against deletion.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; PRAGMA recursive_triggers=ON;"
    ),
}


def database(address: str) -> dict[str, object]:
    """Settings of a database from its address; SQLite gets our own engine, and its path starts at the project."""
    found: dict[str, object] = dict(env.db_url_config(address))
    if str(found["ENGINE"]).endswith("sqlite3"):
        path = BASE_DIR / str(found["NAME"])
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        found |= {"ENGINE": "nursery.sqlite", "NAME": str(path), "OPTIONS": SQLITE_OPTIONS}
    else:
        found |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    return found


DATABASES = {"default": database(env.str("DATABASE_URL", default=f"sqlite:///{VAR_DIR}/heelin.sqlite3"))}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- Work in the background -------------------------------------------------------------------------------------
REDIS_URL = env.str("REDIS_URL", default="")
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": REDIS_URL,
        "KEY_PREFIX": "heelin",
    }
    if REDIS_URL
    else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
}
# No time to wait for a broker that is away: the job's row is the truth, and the sweep rings again.
BROKER_PATIENCE = {"max_retries": 1, "interval_start": 0, "interval_step": 0.2, "socket_connect_timeout": 2}
CELERY_BROKER_URL = REDIS_URL or "files://localhost"
CELERY_BROKER_TRANSPORT_OPTIONS = (
    BROKER_PATIENCE
    | {
        "global_keyprefix": "heelin:",
        "visibility_timeout": 3600,  # longer than any task takes
        "unacked_restore_interval": 5,  # kombu looks only every 100 s by default
        "unacked_restore_throttle": 1,
    }
    if REDIS_URL
    else {"folder": str(VAR_DIR / "broker"), "polling_interval": 0.1}
)
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_TASK_DEFAULT_QUEUE = "heelin"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BEAT_SCHEDULER = "nursery.beat:LeaderScheduler"
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat" / "schedule")
CELERY_BEAT_MAX_LOOP_INTERVAL = 5
CELERY_TIMEZONE = "UTC"

# --- People and sessions ----------------------------------------------------------------------------------------
AUTH_USER_MODEL = "nursery.Person"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
AUTH_PASSWORD_VALIDATORS[1]["OPTIONS"] = {"min_length": 10}  # type: ignore[assignment]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign_in"
PASSWORD_RESET_TIMEOUT = 3 * 24 * 3600  # invitations too
FIRST_PAGE_IS_OPEN = False  # whether an empty ledger takes its first proprietor from the browser
SESSION_COOKIE_AGE = 12 * 3600  # a working day without a page; middleware.RenewSession starts it anew
SESSION_SAVE_EVERY_REQUEST = False
SESSION_EXPIRE_AT_BROWSER_CLOSE = False
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_NAME = "heelin_session"
CSRF_COOKIE_NAME = "heelin_csrf"
CSRF_COOKIE_SAMESITE = "Lax"

# --- Sign-in throttled: five wrong passwords for one name from one address, then a quarter of an hour ------------
AXES_FAILURE_LIMIT = 5
AXES_USERNAME_FORM_FIELD = "username"  # as the form calls the address; its default is the name of our column
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_COOLOFF_TIME = dt.timedelta(minutes=15)
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_TEMPLATE = "registration/locked.html"
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False
AXES_IPWARE_PROXY_COUNT = env.int("PROXY_COUNT", default=0) or None

# --- What a page may do -----------------------------------------------------------------------------------------
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "media-src": [SELF, "blob:"],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    },
}
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"

# --- Files ------------------------------------------------------------------------------------------------------
# Photos and documents lie outside every served folder; only views with a permission check hand them out.
MEDIA_ROOT = VAR_DIR / "files"
MEDIA_URL = ""
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
PICTURE_MAX_BYTES = 25 * 1024 * 1024  # one picture
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024  # a form without its files
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 40
STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "nursery.faces.FacesFinder",
]

# --- Mail -------------------------------------------------------------------------------------------------------
EMAIL_URL = env.str("EMAIL_URL", default="")
if EMAIL_URL:
    globals().update(env.email_url_config(EMAIL_URL))
else:
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    EMAIL_FILE_PATH = VAR_DIR / "mail"
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="Heelin <heelin@localhost>")
SERVER_EMAIL = DEFAULT_FROM_EMAIL

# --- Words and time ---------------------------------------------------------------------------------------------
LANGUAGE_CODE = "en-ie"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # the nursery's own zone is a row, set on its page
DATE_FORMAT = "j M Y"

# --- Log --------------------------------------------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "filters": {
        "refused": {"()": "nursery.log_lines.RefusedInOneLine"},
        "secrets": {"()": "nursery.log_lines.SecretsHidden"},
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": env.str("LOG_LEVEL", default="WARNING")},
    "loggers": {
        "django": {"handlers": [], "level": "INFO", "propagate": True},
        "django.request": {"filters": ["refused", "secrets"]},
    },
}
