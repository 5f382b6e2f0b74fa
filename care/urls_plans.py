"""Addresses of programmes and plans of treatment."""

from django.urls import URLPattern, URLResolver, path

from care.views import plans, programmes

urlpatterns: list[URLPattern | URLResolver] = [
    path("plans/", plans.plans, name="plans"),
    path("plans/<int:pk>/", plans.plan, name="plan"),
    path("plans/<int:pk>/pause/", plans.plan_pause, name="plan_pause"),
    path("plans/<int:pk>/another-round/", plans.plan_another_round, name="plan_another_round"),
    path("plans/<int:pk>/telling/", plans.plan_telling, name="plan_telling"),
    path("plans/<int:pk>/end/", plans.plan_end, name="plan_end"),
    path("plans/<int:pk>/<slug:verb>/now/", plans.plan_verb, name="plan_verb"),
    path("trees/<int:tree>/plan/", plans.plan_draw_up, name="plan_draw_up"),
    path("programmes/", programmes.programmes, name="programmes"),
    path("programmes/add/", programmes.programme_add, name="programme_add"),
    path("programmes/usual/", programmes.programmes_load, name="programmes_load"),
    path("programmes/<int:pk>/", programmes.programme, name="programme"),
    path("programmes/<int:pk>/change/", programmes.programme_change, name="programme_change"),
    path("programmes/<int:pk>/retire/", programmes.programme_retire, name="programme_retire"),
    path("programmes/<int:pk>/step/", programmes.programme_step_add, name="programme_step_add"),
    path("programmes/<int:pk>/step/<int:order>/", programmes.programme_step, name="programme_step"),
    path(
        "programmes/<int:pk>/step/<int:order>/drop/",
        programmes.programme_step_drop,
        name="programme_step_drop",
    ),
]
