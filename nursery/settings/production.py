"""A server that others reach. Refuses to start while something is missing that has no safe default."""

from django.core.exceptions import ImproperlyConfigured

from nursery.settings.base import *  # noqa: F403
from nursery.settings.base import STORAGES, env

HOW_TO_MAKE = {
    "SECRET_KEY": "python3 -c 'import secrets; print(secrets.token_urlsafe(64))'  (a new one signs everybody out)",
    "ALLOWED_HOSTS": "the host names people use, separated by commas, for example trees.example.org",
    "SITE_URL": "the address people use, for example https://trees.example.org (links in e-mails begin with it)",
}


def required(name: str) -> str:
    """The value of a variable that production cannot do without, or a refusal that says how to make it."""
    value = env.str(name, default="").strip()
    if not value:
        raise ImproperlyConfigured(f"{name} is not set. It needs: {HOW_TO_MAKE[name]}")
    return value


SECRET_KEY = required("SECRET_KEY")
if len(SECRET_KEY) < 50:
    raise ImproperlyConfigured(f"SECRET_KEY is too short to be safe. Make one: {HOW_TO_MAKE['SECRET_KEY']}")
ALLOWED_HOSTS = [host.strip() for host in required("ALLOWED_HOSTS").split(",")]
SITE_URL = required("SITE_URL").rstrip("/")
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[SITE_URL])

SECURE_SSL_REDIRECT = env.bool("SSL_REDIRECT", default=True)
SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", default=365 * 24 * 3600)
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.bool("HSTS_SUBDOMAINS", default=True)
SECURE_HSTS_PRELOAD = env.bool("HSTS_PRELOAD", default=True)
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
if env.bool("BEHIND_PROXY", default=False):  # only behind a proxy that sets or removes this header itself
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

STORAGES = STORAGES | {"staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}}
WHITENOISE_USE_FINDERS = False
