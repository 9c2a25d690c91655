from django.urls import path

from keyctl.counts.views import cases, counting, handovers, lists, rules

app_name = "counts"
urlpatterns = [
    path("", lists.index, name="list"),
    path("mine/", lists.mine, name="mine"),
    path("mine/<uuid:pk>/", lists.declare, name="declare"),
    path("sites/<uuid:pk>/start/", counting.start, name="start"),
    path("sites/<uuid:pk>/rules/", rules.rules, name="rules"),
    path("sites/<uuid:pk>/rules/adopt/", rules.adopt, name="adopt-set"),
    path("sites/<uuid:pk>/rules/set/", rules.set_rule, name="set-rule"),
    path("sites/<uuid:pk>/rules/end/", rules.end_rule, name="end-rule"),
    path("<uuid:pk>/", counting.detail, name="detail"),
    path("<uuid:pk>/begin/", counting.begin, name="begin"),
    path("<uuid:pk>/scan/", counting.scan, name="scan"),
    path("<uuid:pk>/undo/", counting.undo, name="undo"),
    path("<uuid:pk>/witness/", counting.witness, name="witness"),
    path("<uuid:pk>/close/", counting.close, name="close"),
    path("<uuid:pk>/cancel/", counting.cancel, name="cancel"),
    path("cases/<uuid:pk>/", cases.case, name="case"),
    path("cases/<uuid:pk>/explain/", cases.explain, name="explain"),
    path("cases/<uuid:pk>/close/", cases.close, name="close-case"),
    path("cases/<uuid:pk>/reopen/", cases.reopen, name="reopen-case"),
    path("handovers/<uuid:pk>/", handovers.handover, name="handover"),
    path("handovers/<uuid:pk>/sign/", handovers.sign, name="sign-handover"),
    path("handovers/<uuid:pk>/excuse/", handovers.excuse, name="excuse-giver"),
]
