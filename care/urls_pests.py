"""Addresses of the pests with their figures, and of the notes for customers."""

from django.urls import URLPattern, URLResolver, path

from care.views import notes, pests

urlpatterns: list[URLPattern | URLResolver] = [
    path("pests/", pests.pests, name="pests"),
    path("pests/<int:pk>/", pests.pest, name="pest"),
    path("pests/<int:pk>/hold/<int:row>/", pests.figure_hold, name="figure_hold"),
    path("pests/<int:pk>/own-figure/", pests.figure_own, name="figure_own"),
    path("pests/<int:pk>/let-go/<int:generation>/", pests.figure_let_go, name="figure_let_go"),
    path("care-notes/", notes.care_notes, name="care_notes"),
    path("care-notes/add/", notes.care_note_add, name="care_note_add"),
    path("care-notes/<int:pk>/", notes.care_note_change, name="care_note_change"),
    path("care-notes/<int:pk>/retire/", notes.care_note_retire, name="care_note_retire"),
]
