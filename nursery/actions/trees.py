"""Trees and their tags: added, described anew, determined, passed on, tagged."""

import datetime as dt
from typing import Any

from django.db import transaction

from nursery import audit, names, tag_codes
from nursery.actions.changing import locked, plainly, write_changes
from nursery.models import NumberSeries, Nursery, Ownership, Party, Person, Tag, Taxon, Tree
from nursery.refusals import Refused

DETAILS = frozenset(["described_as", "size_class", "foliage", "style", "pot", "height_cm", "area_m2", "note"])
WITH_TAXON = DETAILS | {"taxon"}


@transaction.atomic
def add_tree(
    *,
    described_as: str,
    size_class: int,
    owner: Party | None,
    on: dt.date,
    at: dt.datetime,
    by: Person,
    taxon: Taxon | None = None,
    code: str | None = None,
    **details: Any,
) -> Tree:
    """Write down a tree, whose it is from that day (None: the nursery's own), and give it a tag.

    `code` is that of a tag printed before; without it the next free one is taken.
    """
    if strange := set(details) - DETAILS:
        raise ValueError(f"a tree has no {', '.join(sorted(strange))}")
    told = {"described_as": described_as, "size_class": size_class, "taxon": taxon, **details}
    tree = Tree.objects.create(**told, created_at=at)
    Ownership.objects.create(tree=tree, party=owner, since_on=on)
    after = {**plainly(told), "owner": str(owner or "own stock")}
    audit.record(by=by, at=at, verb="wrote down a tree", subject=tree, after=after)
    give_tag(tree=tree, at=at, by=by, code=code)
    return tree


@transaction.atomic
def change_tree(*, tree: Tree, fields: dict[str, Any], at: dt.datetime, by: Person) -> Tree:
    """Change the description of a tree. The class of a stay is fixed at check-in and does not follow."""
    return write_changes(locked(tree), fields, may=WITH_TAXON, verb="changed a tree", at=at, by=by)


@transaction.atomic
def determine_tree(
    *, tree: Tree, taxon: Taxon, determined_by: str, on: dt.date, at: dt.datetime, by: Person
) -> Tree:
    """Say which taxon a tree is, who says so and when; an earlier word stays in the audit trail."""
    fields = {"taxon": taxon, "determined_by": determined_by, "determined_on": on}
    return write_changes(locked(tree), fields, may=fields, verb="determined a tree", at=at, by=by)


@transaction.atomic
def taxon_named(*, text: str, at: dt.datetime, by: Person, common_name: str = "") -> Taxon:
    """The taxon of a typed botanical name, written down when it is new.

    Raises Refused("no-botanical-name") with how to write it.
    """
    try:
        name = names.parse(text)
    except names.NotAName as wrong:
        raise Refused("no-botanical-name", wrong.sentence, field="taxon") from wrong
    parts = {
        "genus": name.genus,
        "species": name.species,
        "hybrid": name.hybrid,
        "rank": name.rank,
        "infraspecific": name.infraspecific,
        "cultivar": name.cultivar,
    }
    taxon, new = Taxon.objects.get_or_create(**parts, defaults={"common_name": common_name})
    if new:
        audit.record(by=by, at=at, verb="wrote down a taxon", subject=taxon, after=plainly(parts))
    elif common_name and not taxon.common_name:
        write_changes(
            taxon, {"common_name": common_name}, may={"common_name"}, verb="named a taxon", at=at, by=by
        )
    return taxon


@transaction.atomic
def change_owner(*, tree: Tree, to: Party | None, on: dt.date, at: dt.datetime, by: Person) -> Ownership:
    """Pass a tree on from a day: the old row ends, the new one begins, in one step. None is the nursery itself.

    Raises Refused("owner-already"), Refused("before-this-owner").
    """
    # The tree first: two who pass it on at once take turns, and the second sees the row of the first.
    tree = locked(tree)
    now = tree.ownerships.select_related("party").get(until_on=None)
    if now.party_id == (to.pk if to else None):
        raise Refused("owner-already", f"{to or 'The nursery'} owns this tree already.", field="to")
    if on < now.since_on:
        raise Refused(
            "before-this-owner",
            f"{now.party or 'The nursery'} has owned it since {now.since_on:%-d %B %Y}; write that day or later.",
            field="on",
        )
    now.until_on = on
    now.save(update_fields=["until_on"])
    row = Ownership.objects.create(tree=tree, party=to, since_on=on)
    before, after = {"owner": str(now.party or "own stock")}, {"owner": str(to or "own stock"), "on": on}
    audit.record(by=by, at=at, verb="passed a tree on", subject=tree, before=before, after=after)
    return row


@transaction.atomic
def give_tag(*, tree: Tree, at: dt.datetime, by: Person, code: str | None = None) -> Tag:
    """Give a tree its tag: the next free code, or that of a tag printed before.

    Raises Refused("has-tag"), Refused("tag-used"): a code is assigned once, also when it was lost.
    """
    live = tree.tags.filter(retired_at=None).first()
    if live:
        raise Refused(
            "has-tag", f"This tree has the tag {live.short}; say first what became of it.", field="code"
        )
    code = code or _next_code()
    used = Tag.objects.filter(code=code).select_related("tree").first()
    if used:
        raise Refused(
            "tag-used",
            f"{used.short} was given to {used.tree} and never comes back; take another tag.",
            field="code",
        )
    tag = Tag.objects.create(code=code, tree=tree, assigned_at=at)
    audit.record(by=by, at=at, verb="gave a tag", subject=tree, after={"tag": tag.short})
    return tag


@transaction.atomic
def retire_tag(*, tag: Tag, why: str, at: dt.datetime, by: Person, code: str | None = None) -> Tag:
    """Retire a lost or worn tag for ever and give the tree a new one, which is returned.

    Raises Refused("tag-retired"), Refused("tag-used").
    """
    _retire(tag, Tag.Retired(why), at, by)
    return give_tag(tree=tag.tree, at=at, by=by, code=code)


@transaction.atomic
def retire_tag_for_good(*, tag: Tag, at: dt.datetime, by: Person) -> Tag:
    """Retire the tag of a tree that is gone; none follows."""
    return _retire(tag, Tag.Retired.GONE, at, by)


def _retire(tag: Tag, why: Tag.Retired, at: dt.datetime, by: Person) -> Tag:
    tag = locked(tag)
    if tag.retired_at:
        raise Refused(
            "tag-retired", f"{tag.short} was retired already; a retired tag never comes back.", field="code"
        )
    tag.retired_at, tag.retired_why = at, why
    tag.save(update_fields=["retired_at", "retired_why"])
    audit.record(
        by=by, at=at, verb="retired a tag", subject=tag.tree, before={"tag": tag.short}, reason=why.label
    )
    return tag


def _next_code() -> str:
    """The next code of the nursery's prefix. Its counter is locked; codes of tags printed before are passed over."""
    prefix = Nursery.here().tag_prefix
    kind = f"tag-{prefix}"
    NumberSeries.objects.get_or_create(kind=kind, year=0)
    counter = NumberSeries.objects.select_for_update(no_key=True).get(kind=kind, year=0)
    code = tag_codes.next_code(prefix, counter.last)
    while Tag.objects.filter(code=code).exists():
        code = tag_codes.next_code(prefix, tag_codes.number_of(code))
    counter.last = tag_codes.number_of(code)
    counter.save(update_fields=["last"])
    return code
