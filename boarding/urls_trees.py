"""Addresses of the pages about trees: the list, the tree, a stay, its photos, then and now."""

from django.urls import URLPattern, URLResolver, path

from boarding.views import photos, trees

urlpatterns: list[URLPattern | URLResolver] = [
    path("trees/", trees.trees, name="trees"),
    path("trees/<int:pk>/", trees.tree, name="tree"),
    path("trees/<int:pk>/photos/", photos.photos, name="photos"),
    path("stays/<int:pk>/", trees.stay, name="stay"),
    path("stays/<int:pk>/then-and-now/", photos.report_now, name="then_and_now"),
    path("stays/<int:pk>/then-and-now/<str:angle>/", photos.photo_now, name="photo_now"),
]
