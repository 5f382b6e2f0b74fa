"""Addresses of the pages about contact cases, and of the move that may draw neighbours into one."""

from django.urls import URLPattern, URLResolver, path

from care.views import contacts, moving

urlpatterns: list[URLPattern | URLResolver] = [
    path("contacts/", contacts.contact_cases, name="contact_cases"),
    path("contacts/<int:pk>/", contacts.contact_case, name="contact_case"),
    path("contacts/<int:pk>/fix/", contacts.contact_fix, name="contact_fix"),
    path("contacts/<int:pk>/add/", contacts.contact_add, name="contact_add"),
    path("contacts/<int:pk>/close/", contacts.contact_close, name="contact_close"),
    path("contacts/trees/<int:pk>/tell/", contacts.contact_tell, name="contact_tell"),
    path("trees/<int:pk>/contacts/open/", contacts.contact_open, name="contact_open"),
    path("trees/<int:pk>/move/", moving.tree_move, name="tree_move"),
]
