"""The house rules that a machine can read: direction, names, sizes, and what may stand in the project."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
APPS = ["nursery", "boarding", "care", "invoicing"]  # lower first
ROOF = {"apps", "beat", "celery", "checks", "demo", "management", "settings", "urls", "wsgi"}  # of nursery/
# The settings choose by environment; the roof's commands and the demo look at every app.
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "Makefile", "manage.py", "pyproject.toml",
    "requirements.lock", "nursery", "boarding", "care", "invoicing", "templates", "tests", "fixtures",
}  # fmt: skip
FORBIDDEN_NAMES = {"utils", "util", "helpers", "helper", "common", "services", "managers", "signals", "misc"}
MOST_LINES_OF_A_FILE = 400
MOST_LINES_OF_A_FUNCTION = 40
MOST_LINES_OF_A_TEMPLATE = 100
LONGER_FOR_A_REASON: dict[str, str] = {}  # path or path::function -> why

SOURCES = sorted(
    path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts
)  # fmt: skip
TREES = {path: ast.parse(path.read_text()) for path in SOURCES}


def short(path):
    return str(path.relative_to(ROOT))


def is_roof(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[0] == "nursery" and len(parts) > 1 and parts[1] in ROOF


def modules_used(tree):
    """Every module an import statement names, as dotted names."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{name.name}" for name in node.names)


def models_named(tree):
    """Apps named by string references to models: ForeignKey("care.Round"), to="boarding.Stay"."""
    fields = {"ForeignKey", "OneToOneField", "ManyToManyField", "get_model"}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if called not in fields:
            continue
        named = [*node.args[:1], *(word.value for word in node.keywords if word.arg in ("to", "through"))]
        for value in named:
            if isinstance(value, ast.Constant) and isinstance(value.value, str) and "." in value.value:
                yield value.value.split(".")[0]


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_no_app_looks_upwards(path):
    if is_roof(path):
        return
    own = APPS.index(path.relative_to(ROOT).parts[0])
    above = set(APPS[own + 1 :])
    used = {name.split(".")[0] for name in modules_used(TREES[path])} | set(models_named(TREES[path]))
    assert used & above == set()


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_nobody_imports_the_roof(path):
    if is_roof(path):
        return
    roof = {f"nursery.{name}" for name in ROOF}
    assert {name for name in modules_used(TREES[path]) if ".".join(name.split(".")[:2]) in roof} == set()


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_imports_stand_at_the_top(path):
    inside = [
        f"{node.name}: line {child.lineno}"
        for node in ast.walk(TREES[path])
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        for child in ast.walk(node)
        if isinstance(child, ast.Import | ast.ImportFrom)
    ]
    assert inside == []


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_no_app_reads_anothers_private_names(path):
    taken = [
        f"{node.module}.{name.name}"
        for node in ast.walk(TREES[path])
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in APPS
        for name in node.names
        if name.name.startswith("_")
    ]
    assert taken == []


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_files_are_named_by_what_they_hold(path):
    assert not FORBIDDEN_NAMES & set(path.relative_to(ROOT).with_suffix("").parts)


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_files_and_functions_stay_small(path):
    lines = len(path.read_text().splitlines())
    long = {short(path): lines} if lines > MOST_LINES_OF_A_FILE else {}
    for node in ast.walk(TREES[path]):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            if length > MOST_LINES_OF_A_FUNCTION:
                long[f"{short(path)}::{node.name}"] = length
    assert {name: length for name, length in long.items() if name not in LONGER_FOR_A_REASON} == {}


def test_templates_stay_small():
    templates = (ROOT / "templates").rglob("*.*")
    long = {short(path): len(path.read_text().splitlines()) for path in templates if path.suffix == ".html"}
    assert {name: length for name, length in long.items() if length >= MOST_LINES_OF_A_TEMPLATE} == {}


def test_the_calculations_need_neither_django_nor_a_clock():
    """A module named here is plain Python: values in, values out."""
    pure = [
        "nursery/money.py", "nursery/periods.py", "nursery/units.py", "nursery/tag_codes.py", "nursery/names.py",
        "nursery/quiet_hours.py", "care/notice_words.py",
        "boarding/nights.py", "care/minutes.py", "care/contacts.py", "care/degree_days.py", "care/dilution.py",
        "care/degree_sums.py", "nursery/foliage.py", "care/learned.py",
        "invoicing/tariffs.py", "invoicing/caps.py", "invoicing/cash.py", "invoicing/bank_csv.py",
        "invoicing/matching.py", "invoicing/tax.py", "invoicing/disputing.py", "invoicing/late_interest.py",
        "invoicing/reminding.py",
    ]  # fmt: skip
    found = {}
    for path in (ROOT / name for name in pure if (ROOT / name).exists()):
        roots = {name.split(".")[0] for name in modules_used(TREES[path])}
        calls = {node.attr for node in ast.walk(TREES[path]) if isinstance(node, ast.Attribute)}
        found[short(path)] = sorted(roots & {"django", "time", "celery"} | calls & {"now", "today", "utcnow"})
    assert {name: bad for name, bad in found.items() if bad} == {}


def test_the_clock_is_read_by_views_tasks_and_commands_only():
    """jobs.py and once.py are the machinery under them; clock.py itself is the one place that asks Django."""
    may = re.compile(r"(^|/)(views|tasks|jobs|once|clock|commands|demo|context|middleware|settings)(/|\.py$)")
    readers = {
        short(path)
        for path in SOURCES
        for node in ast.walk(TREES[path])
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in ("now", "today", "localdate", "utcnow")
        and getattr(node.func.value, "id", "") in ("clock", "timezone", "datetime", "date", "dt")
    }
    assert {name for name in readers if not may.search(name)} == set()


# --- What is committed --------------------------------------------------------------------------------------------


def tracked():
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    return [name for name in listed.split("\0") if name]


def test_the_top_level_holds_only_what_belongs_there():
    tops = {name.split("/")[0] for name in tracked()}
    assert {name for name in tops if name not in TOP_LEVEL and not name.startswith(".")} == set()


def test_no_file_names_a_machine_a_registry_or_a_place_of_work():
    # Written in pieces, so that this file does not hold the words itself.
    words = [
        "/wo" + "rk/",
        "/ro" + "ot/",
        "pypi" + ".org",
        "python" + "hosted",
        "npm" + "js",
        "seed " + "document",
    ]
    words += ["index" + "-url =", "PRACTICE" + ".md", "HOUSE" + ".md", "/tmp/" + "brief"]
    found = []
    for name in tracked():
        content = (ROOT / name).read_bytes() if (ROOT / name).exists() else b""
        found += [f"{name}: {word}" for word in words if word.encode() in content]
    assert found == []


def test_the_lock_pins_every_package_with_its_checksum():
    lock = (ROOT / "requirements.lock").read_text()
    assert "http" not in lock
    pinned = re.findall(r"^([a-z0-9.-]+)==", lock, re.M)
    assert len(pinned) == len(re.findall(r"^[a-z0-9.-]+==.*\\\n    --hash=sha256:", lock, re.M))
    asked = (ROOT / "pyproject.toml").read_text()
    wanted = {word.lower().replace("_", "-") for word in re.findall(r'^    "([A-Za-z0-9_-]+)', asked, re.M)}
    assert {"django", "celery", "async-timeout"} <= set(pinned) & wanted


@pytest.mark.parametrize("path", SOURCES, ids=short)
def test_no_lock_takes_the_key(path):
    """Rows that point at a locked one are written meanwhile; a lock on the key makes them deadlock at commit."""
    bare = [
        f"line {node.lineno}"
        for node in ast.walk(TREES[path])
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "select_for_update"
        and "no_key" not in {word.arg for word in node.keywords}
    ]
    assert bare == []
