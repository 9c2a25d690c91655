from django.urls import path

from keyctl.approvals import views

app_name = "approvals"
urlpatterns = [
    path("", views.index, name="list"),
    path("ask/", views.ask, name="ask"),
    path("ask/<uuid:pk>/", views.ask_building, name="ask-building"),
    path("desk/", views.desk, name="desk"),
    path("decisions/", views.decisions, name="decisions"),
    path("rules/", views.rules, name="rules"),
    path("rules/add/<uuid:pk>/", views.add_rule, name="rule-add"),
    path("rules/write/<uuid:pk>/", views.write_rules, name="rules-write"),
    path("rules/<uuid:pk>/", views.change_rule, name="rule-change"),
    path("rules/<uuid:pk>/up/", views.move_rule, name="rule-up"),
    path("rules/<uuid:pk>/remove/", views.remove_rule, name="rule-remove"),
    path("settings/<uuid:pk>/", views.settings, name="settings"),
    path("substitutes/", views.substitutes, name="substitutes"),
    path("substitutes/name/<uuid:pk>/", views.name_substitute, name="substitute-name"),
    path("substitutes/<uuid:pk>/end/", views.end_substitute, name="substitute-end"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/approve/", views.approve, name="approve"),
    path("<uuid:pk>/refuse/", views.refuse, name="refuse"),
    path("<uuid:pk>/withdraw/", views.withdraw, name="withdraw"),
    path("<uuid:pk>/look-again/", views.look_again, name="look-again"),
    path("grants/<uuid:pk>/hand-out/", views.hand_out, name="hand-out"),
]
