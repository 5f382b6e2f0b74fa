"""Addresses of the boarding pages."""

from django.urls import URLPattern, URLResolver, path

from boarding.urls_trees import urlpatterns as trees
from boarding.views import gate, lifeline, places, tags, uncollected, visit, visit_tree

at_the_gate: list[URLPattern | URLResolver] = [
    path("gate/", gate.gate, name="gate"),
    path("gate/announce/", gate.announce, name="announce"),
    path("gate/announce/<int:party>/", gate.announce_tree, name="announce_tree"),
    path("gate/terms/", gate.terms_page, name="terms"),
    path("gate/terms/sample/", gate.terms_sample, name="terms_sample"),
    path("gate/terms/add/", gate.terms_add, name="terms_add"),
]
check_in: list[URLPattern | URLResolver] = [
    path("visits/open/", visit.visit_open, name="visit_open"),
    path("visits/<int:pk>/", visit.visit, name="visit"),
    path("visits/<int:pk>/customer/", visit.visit_customer, name="visit_customer"),
    path("visits/<int:pk>/customer/new/", visit.visit_customer_new, name="visit_customer_new"),
    path("visits/<int:pk>/trees/", visit.visit_trees, name="visit_trees"),
    path("visits/<int:pk>/trees/new/", visit.visit_tree_new, name="visit_tree_new"),
    path("visits/<int:pk>/trees/<int:tree>/add/", visit.visit_tree_add, name="visit_tree_add"),
    path("visits/<int:pk>/trees/<int:stay>/drop/", visit.visit_tree_drop, name="visit_tree_drop"),
    path("visits/<int:pk>/trees/<int:stay>/day-work/", visit.visit_day_work, name="visit_day_work"),
    path("visits/<int:pk>/agreement/", visit.visit_agreement, name="visit_agreement"),
    path("visits/<int:pk>/means/<int:stay>/", visit.visit_means, name="visit_means"),
    path("visits/<int:pk>/report/<int:stay>/", visit_tree.visit_report, name="visit_report"),
    path("visits/<int:pk>/look/<int:stay>/", visit_tree.visit_look, name="visit_look"),
    path("visits/<int:pk>/photos/<int:stay>/", visit_tree.visit_photos, name="visit_photos"),
    path("visits/<int:pk>/photos/<int:stay>/<str:angle>/", visit_tree.visit_photo, name="visit_photo"),
    path("visits/<int:pk>/place/<int:stay>/", visit_tree.visit_place, name="visit_place"),
    path("visits/<int:pk>/sign/", visit_tree.visit_sign, name="visit_sign"),
    path("visits/<int:pk>/done/", visit_tree.visit_done, name="visit_done"),
    path("visits/<int:pk>/give-up/", visit.visit_abandon, name="visit_abandon"),
]
verbs: list[URLPattern | URLResolver] = [
    path("stays/<int:pk>/receive/", gate.stay_receive, name="stay_receive"),
    path("stays/<int:pk>/take-back/", lifeline.stay_take_back, name="stay_take_back"),
    path("stays/<int:pk>/bring-back/", lifeline.stay_bring_back, name="stay_bring_back"),
    path("stays/<int:pk>/turn-away/", lifeline.stay_turn_away, name="stay_turn_away"),
    path("stays/<int:pk>/never-came/", lifeline.stay_never_came, name="stay_never_came"),
    path("stays/<int:pk>/death/", lifeline.stay_death, name="stay_death"),
    path("stays/<int:pk>/remains-over/", lifeline.stay_remains_over, name="stay_remains_over"),
    path("stays/<int:pk>/remains-gone/", lifeline.stay_remains_gone, name="stay_remains_gone"),
    path("stays/<int:pk>/notice/", uncollected.notice_send, name="notice_send"),
    path("stays/<int:pk>/free-night/", lifeline.stay_free_night, name="stay_free_night"),
    path("stays/<int:pk>/expected/", lifeline.stay_expected, name="stay_expected"),
    path("stays/<int:pk>/isolation/", lifeline.stay_isolation, name="stay_isolation"),
    path("stays/<int:pk>/price/", lifeline.stay_price, name="stay_price"),
    path("stays/<int:pk>/day-work/", lifeline.stay_day_work, name="stay_day_work"),
]
where_trees_stand: list[URLPattern | URLResolver] = [
    path("benches/", places.benches, name="benches"),
    path("benches/<int:pk>/", places.bench, name="bench"),
    path("benches/move/", places.move_find, name="move_find"),
    path("trees/<int:pk>/hold/", places.hold_add, name="hold_add"),
    path("holds/<int:pk>/lift/", places.hold_lift, name="hold_lift"),
    path("exceptions/<int:pk>/end/", places.override_end, name="override_end"),
    path("t/<str:code>", tags.tag, name="tag"),
    path("tags/labels/", tags.tag_labels, name="tag_labels"),
]
urlpatterns = [*at_the_gate, *check_in, *verbs, *where_trees_stand, *trees]
