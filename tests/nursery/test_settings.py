"""Settings: safe where nothing is set, and no start where something must be."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from csp.middleware import CSPMiddleware
from django.conf import settings
from django.http import HttpResponse
from django.test import RequestFactory

ROOT = Path(settings.BASE_DIR)
SECRET = "a-secret-of-more-than-fifty-characters-with-many-different-letters-0123456789"
COMPLETE = {
    "SECRET_KEY": SECRET,
    "ALLOWED_HOSTS": "trees.example.org",
    "SITE_URL": "https://trees.example.org",
}


def python(code_or_args, tmp_path, place="production", **environment):
    """Run Python in the given settings, with nothing else of ours in its environment."""
    clean = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    clean |= {"VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": f"nursery.settings.{place}"}
    return subprocess.run(
        [sys.executable, *code_or_args],
        cwd=ROOT,
        env=clean | environment,
        capture_output=True,
        text=True,
        timeout=60,
    )


def value_of(name, tmp_path, place="development", **environment):
    code = f"from django.conf import settings; print(settings.{name})"
    done = python(["-c", code], tmp_path, place, **environment)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.mark.parametrize("name", ["SECRET_KEY", "ALLOWED_HOSTS", "SITE_URL"])
def test_production_names_what_is_missing_and_how_to_make_it(name, tmp_path):
    environment = {key: value for key, value in COMPLETE.items() if key != name}
    done = python(["manage.py", "check"], tmp_path, **environment)
    assert done.returncode != 0
    assert f"ImproperlyConfigured: {name} is not set. It needs: " in done.stderr


def test_production_refuses_a_short_secret(tmp_path):
    done = python(["manage.py", "check"], tmp_path, **COMPLETE | {"SECRET_KEY": "short"})
    assert done.returncode != 0
    assert "SECRET_KEY is too short" in done.stderr


def test_check_deploy_is_clean_in_production(tmp_path):
    done = python(["manage.py", "check", "--deploy", "--fail-level", "INFO"], tmp_path, **COMPLETE)
    assert (done.returncode, done.stderr) == (0, "")
    assert "no issues" in done.stdout


def test_a_secret_may_come_from_a_file(tmp_path):
    (tmp_path / "secret").write_text(SECRET)
    environment = {
        "SECRET_KEY_FILE": str(tmp_path / "secret"),
        "ALLOWED_HOSTS": "a.example",
        "SITE_URL": "https://a",
    }
    assert value_of("SECRET_KEY", tmp_path, "production", **environment) == SECRET


def test_development_makes_one_secret_and_keeps_it(tmp_path):
    first = value_of("SECRET_KEY", tmp_path)
    assert len(first) > 50
    assert value_of("SECRET_KEY", tmp_path) == first
    assert oct((tmp_path / "secret_key").stat().st_mode & 0o777) == "0o600"


def test_debug_is_off_unless_asked_for(tmp_path):
    assert value_of("DEBUG", tmp_path) == "False"
    assert value_of("DEBUG", tmp_path, DEBUG="true") == "True"


def test_addresses_switch_engine_and_broker(tmp_path):
    addresses = {
        "DATABASE_URL": "postgresql://me@db.example:5433/books",
        "REDIS_URL": "redis://cache.example:6379/3",
    }
    database = value_of("DATABASES['default']", tmp_path, **addresses)
    assert "'django.db.backends.postgresql'" in database
    assert "'db.example'" in database
    assert value_of("CELERY_BROKER_URL", tmp_path, **addresses) == "redis://cache.example:6379/3"
    assert "RedisCache" in value_of("CACHES", tmp_path, **addresses)


def test_without_addresses_everything_is_embedded(tmp_path):
    database = value_of("DATABASES['default']", tmp_path)
    assert "'nursery.sqlite'" in database
    assert str(tmp_path / "heelin.sqlite3") in database
    assert value_of("CELERY_BROKER_URL", tmp_path) == "files://localhost"


def test_the_policy_lets_no_inline_script_or_style_run():
    """Directive names and their meaning: W3C Content Security Policy Level 3."""
    answer = CSPMiddleware(lambda request: HttpResponse())(RequestFactory().get("/"))
    policy = dict(part.strip().split(" ", 1) for part in answer["Content-Security-Policy"].split(";"))
    assert policy["script-src"] == "'self'"
    assert policy["style-src"] == "'self'"
    assert policy["default-src"] == "'self'"
    assert policy["img-src"] == "'self' data: blob:"
    assert policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["object-src"] == "'none'"
    assert "unsafe" not in answer["Content-Security-Policy"]


def test_kept_files_lie_outside_everything_served():
    kept = Path(settings.VAR_DIR / "files")
    assert settings.MEDIA_URL in ("", "/")
    assert not kept.is_relative_to(settings.STATIC_ROOT)
    assert settings.FILE_UPLOAD_PERMISSIONS == 0o600


def test_sessions_end_after_a_working_day_without_a_page():
    assert settings.SESSION_COOKIE_AGE == 43200
    assert settings.SESSION_SAVE_EVERY_REQUEST is False  # RenewSession writes it now and then
    assert "nursery.middleware.RenewSession" in settings.MIDDLEWARE
    assert settings.SESSION_COOKIE_HTTPONLY is True
