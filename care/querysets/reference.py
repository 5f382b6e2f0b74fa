"""Kinds of work, materials, programmes, figures held to, notes for customers: what is in use on a day."""

import datetime as dt

from django.db.models import Q, QuerySet

from boarding.models import Finding
from care.models import Activity, CareNote, HeldFigure, Material, Programme
from nursery.models import Host, Organism, Tree


def activities_on(day: dt.date) -> QuerySet[Activity]:
    """Kinds of work in use on the day, in the order of the buttons."""
    return Activity.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


def programmes_on(day: dt.date) -> QuerySet[Programme]:
    """Programmes of treatment in use on the day."""
    return Programme.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


def programmes_for(tree: Tree, day: dt.date) -> QuerySet[Programme]:
    """Programmes in use that may serve the tree: for any pest, for one its genus is a host of, or one found on it."""
    programmes = programmes_on(day)
    if tree.taxon is None:
        return programmes
    found = Finding.objects.filter(look__tree=tree, live__gt=0).values("organism")
    hosts = Host.objects.filter(genus=tree.taxon.genus).values("organism")
    return programmes.filter(Q(organism=None) | Q(organism__in=hosts) | Q(organism__in=found))


def materials_on(day: dt.date) -> QuerySet[Material]:
    """Materials in use on the day."""
    return Material.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))


def held_figures() -> QuerySet[HeldFigure]:
    """The figures the nursery holds to now, one for each generation of a pest that has one."""
    return HeldFigure.objects.filter(ended_at=None).select_related("organism", "threshold")


def figure_of(organism: Organism, generation: int) -> HeldFigure | None:
    """The figure held to now for a generation of a pest."""
    return held_figures().filter(organism=organism, generation=generation).first()


def notes_on(day: dt.date) -> QuerySet[CareNote]:
    """Notes for customers in use on the day, whatever the season."""
    return CareNote.objects.filter(Q(retired_on=None) | Q(retired_on__gt=day))
