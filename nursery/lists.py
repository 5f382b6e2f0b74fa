"""The floor's lists as ruled tables."""

import datetime as dt
import re
from collections.abc import Callable, Iterable
from functools import cached_property, partial
from typing import Any, TypeGuard

import django_tables2 as tables

from nursery import words
from nursery.models import AuditRow, Job, Party, Person, Tree
from nursery.querysets import with_tag
from nursery.tables import WIDE_ONLY, FigureColumn, RuledTable
from nursery.tag_codes import short
from nursery.templatetags.heelin import moment

# How the trail keeps what is no plain text: ISO 8601 instants and days, checksums in hexadecimal, code words.
INSTANT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)")
DAY = re.compile(r"\d{4}-\d\d-\d\d")
CHECKSUM = re.compile(r"[0-9a-f]{64}")
CODE = re.compile(r"[a-z]+(_[a-z]+)+")
YES_OR_NO = {"True": "yes", "False": "no"}
TREE = "tree"
UNSAID = ("look", "photo")  # kept as the number of a row, which nobody calls it by


class PartyTable(RuledTable):
    """Customers: whose is it?"""

    caption_words = "Customers"
    name = tables.Column(linkify=("party", {"pk": tables.A("pk")}))
    town = tables.Column(orderable=False, verbose_name="Town")
    phone = tables.Column(verbose_name="Telephone", orderable=False)
    email = tables.Column(verbose_name="E-mail", orderable=False, attrs=WIDE_ONLY)
    kind = tables.Column(attrs=WIDE_ONLY)
    tree_count = FigureColumn(verbose_name="Trees", orderable=False)

    class Meta(RuledTable.Meta):
        model = Party
        fields = ("name", "town", "phone", "email", "kind", "tree_count")
        order_by = "name"
        empty_text = "Nobody is called so. Try fewer letters, or write a new customer down."


class PeopleTable(RuledTable):
    """People at work."""

    caption_words = "People at work"
    first_name = tables.Column(verbose_name="Name", linkify=("person", {"pk": tables.A("pk")}))
    email = tables.Column(verbose_name="E-mail", attrs=WIDE_ONLY)
    state = tables.Column(accessor="pk", verbose_name="Can sign in", orderable=False)
    spraying_certificate_until = tables.Column(verbose_name="May spray until", attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        model = Person
        fields = ("first_name", "role", "state", "email", "spraying_certificate_until")
        order_by = "first_name"

    def render_first_name(self, record: Person) -> str:
        return record.full_name

    def render_state(self, record: Person) -> str:
        """In words, with its day."""
        return state_of(record)

    value_state = render_state

    def render_spraying_certificate_until(self, value: Any) -> str:
        return words.day(value)


def state_of(person: Person) -> str:
    """Whether a person can sign in, and since when or until when."""
    if person.left_on:
        return f"left {words.day(person.left_on)}"
    if person.joined_at is None:
        return "invited, has not joined yet"
    return "yes"


class TrailTable(RuledTable):
    """Who did what?"""

    caption_words = "Newest first. Rows are only ever added."
    at = tables.Column(verbose_name="When")
    by_name = tables.Column(verbose_name="Who", orderable=False)
    verb = tables.Column(verbose_name="Did", orderable=False)
    subject_words = tables.Column(verbose_name="To what", orderable=False)
    change = tables.Column(accessor="pk", verbose_name="What changed", orderable=False)
    reason = tables.Column(verbose_name="Why", orderable=False, attrs=WIDE_ONLY)

    class Meta(RuledTable.Meta):
        model = AuditRow
        fields = ("at", "by_name", "verb", "subject_words", "change", "reason")
        order_by = "-at"
        empty_text = "Nothing was done like that. Take a filter away."

    def render_at(self, value: Any) -> str:
        return moment(value)

    def value_at(self, value: Any) -> Any:
        return value

    def order_at(self, rows: Any, is_descending: bool) -> tuple[Any, bool]:
        """Rows of one instant keep the order in which they were written."""
        return rows.order_by(*(("-at", "-pk") if is_descending else ("at", "pk"))), True

    @cached_property
    def trees(self) -> dict[int, str]:
        """Tag and words of every tree that a row of this leaf names by its number; one query."""
        kept = (values.get(TREE) for row in self.paginated_rows for values in _both(row.record))
        numbers = {number for number in kept if _is_number(number)}
        found = with_tag(Tree.objects.filter(pk__in=numbers)) if numbers else ()
        return {tree.pk: f"{short(tree.tag_code) if tree.tag_code else ''} {tree}".strip() for tree in found}

    def render_change(self, record: AuditRow) -> str:
        """Each field before and after, as people say it."""
        said = partial(_said, trees=self.trees)
        return _changes(record, [name for name in _names(record) if name not in UNSAID], said)

    def value_change(self, record: AuditRow) -> str:
        """The same for a file, every value as the row keeps it: whole checksums, instants, numbers of rows."""
        return _changes(record, _names(record), lambda _, value: str(value))


def _both(row: AuditRow) -> tuple[dict[str, Any], dict[str, Any]]:
    return row.before, row.after


def _names(row: AuditRow) -> list[str]:
    return list(dict.fromkeys([*row.before, *row.after]))


def _changes(row: AuditRow, names: Iterable[str], said: Callable[[str, Any], str]) -> str:
    """'role: grower → office; phone: …'."""
    return "; ".join(_change(name, row.before.get(name), row.after.get(name), said) for name in names)


def _change(name: str, before: Any, after: Any, said: Callable[[str, Any], str]) -> str:
    label = name.replace("_", " ")
    now = "nothing" if after in (None, "") else said(name, after)
    return f"{label}: {now}" if before in (None, "") else f"{label}: {said(name, before)} → {now}"


def _said(name: str, value: Any, trees: dict[int, str]) -> str:
    """A kept value of a field as people say it; a tree kept by its number is said by tag and words."""
    if name == TREE and _is_number(value):
        return trees.get(value, "a tree that is no longer written here")
    return _shown(value)


def _is_number(value: Any) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool)


def _shown(value: Any) -> str:
    """A value without its field: a yes or no, an instant, a day, a code word; a checksum by its beginning."""
    if value in (None, ""):
        return "nothing"
    if isinstance(value, dict):
        return ", ".join(f"{name} {_shown(part)}" for name, part in value.items())
    text = str(value)
    if text in YES_OR_NO:
        return YES_OR_NO[text]
    if INSTANT.fullmatch(text):
        return moment(dt.datetime.fromisoformat(text))
    if DAY.fullmatch(text):
        return words.day(dt.date.fromisoformat(text))
    if CHECKSUM.fullmatch(text):
        return f"{text[:12]}…"
    return text.replace("_", " ") if CODE.fullmatch(text) else text


class JobTable(RuledTable):
    """Jobs given up."""

    caption_words = "Given up after several tries, newest first"
    has_csv = False
    failed_at = tables.Column(verbose_name="Given up", orderable=False)
    kind = tables.Column(verbose_name="What", orderable=False)
    key = tables.Column(verbose_name="Which", orderable=False, attrs=WIDE_ONLY)
    last_error = tables.Column(verbose_name="Why", orderable=False)
    again = tables.TemplateColumn(
        template_name="nursery/pieces/job_again.html", accessor="pk", verbose_name="To do", orderable=False
    )

    class Meta(RuledTable.Meta):
        model = Job
        fields = ("failed_at", "kind", "key", "last_error", "again")
        empty_text = "Nothing was given up."

    def render_failed_at(self, value: Any) -> str:
        return moment(value)

    def render_kind(self, value: str) -> str:
        return value.replace("_", " ").replace("-", " ")
