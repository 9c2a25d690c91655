from django.urls import path

from keyctl.losses.views import cases, doors, plans, proofs, reports, rules

app_name = "losses"
urlpatterns = [
    path("", cases.index, name="list"),
    path("limits/", rules.limits, name="limits"),
    path("limits/<uuid:pk>/", rules.take_up, name="take-up"),
    path("rules/", rules.rules, name="rules"),
    path("rules/<uuid:pk>/", rules.rule, name="rule"),
    path("own/<uuid:pk>/", reports.own, name="own"),
    path("reports/<uuid:pk>/", reports.report, name="report"),
    path("reports/<uuid:pk>/confirm/", reports.confirm, name="confirm"),
    path("reports/<uuid:pk>/refuse/", reports.refuse, name="refuse"),
    path("copies/<uuid:pk>/", cases.facts, name="facts"),
    path("proofs/<uuid:pk>/", proofs.proof, name="proof"),
    path("<uuid:pk>/", cases.detail, name="detail"),
    path("<uuid:pk>/doors/", doors.doors, name="doors"),
    path("<uuid:pk>/holders/", doors.holders, name="holders"),
    path("<uuid:pk>/holders/call/", doors.call, name="call"),
    path("rates/<uuid:pk>/", plans.rates, name="rates"),
    path("<uuid:pk>/plans/", plans.plans, name="plans"),
    path("<uuid:pk>/plans/make/", plans.make, name="make-plans"),
    path("plans/<uuid:pk>/choose/", plans.choose, name="choose"),
    path("<uuid:pk>/plans/empty/", plans.empty, name="empty-cores"),
    path("<uuid:pk>/look/", cases.look, name="look"),
    path("<uuid:pk>/note/", cases.note, name="note"),
    path("<uuid:pk>/join/", cases.join, name="join"),
    path("<uuid:pk>/prove/", proofs.prove, name="prove"),
    path("<uuid:pk>/close/", cases.close, name="close"),
    path("<uuid:pk>/cancel/", cases.cancel, name="cancel"),
    path("<uuid:pk>/reopen/", cases.reopen, name="reopen"),
]
