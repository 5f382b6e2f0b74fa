"""The calculation modules: their worked examples run, and they stay free of framework, database and clock."""

import ast
import doctest
import sys
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
CALCULATIONS = [
    "boarding.certainty",
    "boarding.health",
    "boarding.nights",
    "boarding.pictures",
    "boarding.uncollected",
    "care.climate",
    "care.climate_csv",
    "care.degree_days",
    "care.due_days",
    "care.contact_warning",
    "care.contacts",
    "care.degree_sums",
    "care.learned",
    "care.minutes",
    "care.readings",
    "care.warmth",
    "care.notice_words",
    "care.weather_csv",
    "care.weather_curve",
    "care.weather_curve_words",
    "care.workload",
    "invoicing.bank_csv",
    "invoicing.caps",
    "invoicing.cash",
    "invoicing.cii",
    "invoicing.credits",
    "invoicing.deposits",
    "invoicing.disputing",
    "invoicing.e_invoice",
    "invoicing.isolation",
    "invoicing.journal",
    "invoicing.late_interest",
    "invoicing.matching",
    "invoicing.payment_code",
    "invoicing.pricing",
    "invoicing.reminding",
    "invoicing.tariffs",
    "invoicing.tax",
    "invoicing.ubl",
    "invoicing.work_lines",
    "invoicing.xml_words",
    "nursery.foliage",
    "nursery.csv_lists",
    "nursery.money",
    "nursery.names",
    "nursery.periods",
    "nursery.quiet_hours",
    "nursery.tag_codes",
    "nursery.units",
    "nursery.xmp",
]
OUR_OWN = {"boarding", "care", "invoicing", "nursery"}
PILLOW = {"PIL"}
STANDARD_LIBRARY = set(sys.stdlib_module_names) - {"os", "random", "socket", "sqlite3", "subprocess", "time"}
# Temperatures and their sums are measured, not counted: no money, minutes or millilitres here.
OF_TEMPERATURES = {
    "care.climate",
    "care.climate_csv",
    "care.degree_days",
    "care.due_days",
    "care.warmth",
    "care.weather_curve",
    "care.weather_curve_words",
}
CLOCK_READERS = {"now", "today", "utcnow", "fromtimestamp", "localtime"}


def tree_of(module: str) -> ast.Module:
    return ast.parse((ROOT / f"{module.replace('.', '/')}.py").read_text())


def packages_imported(tree: ast.Module) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add((node.module or "").split(".")[0])
    return found


@pytest.mark.parametrize("module", CALCULATIONS)
def test_worked_examples_run(module: str) -> None:
    results = doctest.testmod(import_module(module))
    assert results.attempted > 0
    assert results.failed == 0


@pytest.mark.parametrize("module", CALCULATIONS)
def test_only_plain_libraries_are_imported(module: str) -> None:
    assert packages_imported(tree_of(module)) <= OUR_OWN | PILLOW | STANDARD_LIBRARY


@pytest.mark.parametrize("module", CALCULATIONS)
def test_no_clock_and_no_binary_float(module: str) -> None:
    nodes = list(ast.walk(tree_of(module)))
    assert not [n for n in nodes if isinstance(n, ast.Attribute) and n.attr in CLOCK_READERS]
    floats = [n for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, float)]
    assert not floats or module in OF_TEMPERATURES
