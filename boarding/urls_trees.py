"""Addresses of the pages about trees: the list, the tree, a stay, its photos, then and now."""

from django.urls import URLPattern, URLResolver, path

from boarding.views import owners, photos, suspicion, trees

urlpatterns: list[URLPattern | URLResolver] = [
    path("trees/", trees.trees, name="trees"),
    path("trees/<int:pk>/", trees.tree, name="tree"),
    path("trees/<int:pk>/owner/", owners.tree_owner, name="tree_owner"),
    path("trees/<int:pk>/photos/", photos.photos, name="photos"),
    path("trees/<int:pk>/contact/", suspicion.contact_named, name="contact_named"),
    path("trees/<int:pk>/notifiable/", suspicion.notifiable, name="notifiable"),
    path("trees/<int:pk>/notifiable/area/", suspicion.unit_hold, name="unit_hold"),
    path("trees/<int:pk>/notifiable/release/", suspicion.notifiable_release, name="notifiable_release"),
    path("trees/<int:pk>/notifiable/movements/", suspicion.movements, name="movements"),
    path("stays/<int:pk>/", trees.stay, name="stay"),
    path("stays/<int:pk>/then-and-now/", photos.report_now, name="then_and_now"),
    path("stays/<int:pk>/then-and-now/photos/", photos.photos_now, name="photos_now"),
    path("stays/<int:pk>/then-and-now/<str:angle>/", photos.photo_now, name="photo_now"),
]
