"""What is due as a person's calendar reads it. It leaves the house, so it tells the tree by its tag and its kind alone.

No customer, no address, no words that somebody typed: they may name one. No bench either: a phone asks anew when it
likes, and a bench that is hours old leads the wrong way; the page behind each entry says where the tree stands now.
"""

from collections.abc import Iterable

from django.conf import settings
from django.db.models import Count, IntegerField, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.urls import reverse

from care import calendar_file, querysets
from care.models import DueItem
from care.overviews.due_lines import one_line, short_tag
from nursery.models import Nursery, Tag, Taxon

LOOK, TO_DO = "Look again", "To do"


def calendar_of_due() -> bytes:
    """Everything that is open, as a calendar file; two queries."""
    here = Nursery.here()
    name = one_line(["Heelin", here.name]) if here.name else "Heelin"
    return calendar_file.written(name, here.time_zone, _entries())


def _entries() -> Iterable[calendar_file.Entry]:
    tag = Tag.objects.filter(tree=OuterRef("tree"), retired_at=None).values("code")[:1]
    before = DueItem.objects.filter(uid=OuterRef("uid"), pk__lt=OuterRef("pk")).order_by().values("uid")
    times = Subquery(before.annotate(times=Count("pk")).values("times"), output_field=IntegerField())
    items = querysets.open_items().select_related("tree__taxon", "activity").order_by("due_on", "pk")
    for item in items.annotate(tag_code=Subquery(tag), times_put_off=Coalesce(times, 0)):
        yield calendar_file.Entry(
            uid=str(item.uid),
            sequence=item.times_put_off,
            made_at=item.made_at,
            due_on=item.due_on,
            summary=f"{_what(item)}: {_which(item.tag_code, item.tree.taxon)}",
            address=f"{settings.SITE_URL}{reverse('due_item', args=[item.pk])}",
        )


def _what(item: DueItem) -> str:
    """The kind of work; what a person wrote by hand stays in the house."""
    if item.kind == DueItem.Kind.LOOK:
        return LOOK
    if item.activity is None:
        return TO_DO
    again = f"{item.activity} again"
    return again if item.what == again else str(item.activity)


def _which(tag_code: str | None, taxon: Taxon | None) -> str:
    """'DN-0412 Chinese juniper': its tag and its name in English, else in Latin; never its owner's words for it."""
    name = (taxon.common_name or str(taxon)) if taxon else ""
    return " ".join(f"{short_tag(tag_code)} {name}".split()) or "a tree"
