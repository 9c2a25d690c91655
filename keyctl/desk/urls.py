from django.urls import path

from keyctl.desk.views import acts, counter, feeds, laying, reminders

app_name = "desk"
urlpatterns = [
    path("", counter.home, name="home"),
    path("sites/<uuid:pk>/issue/", counter.issue, name="issue"),
    path("sites/<uuid:pk>/return/", counter.take_back, name="return"),
    path("sites/<uuid:pk>/transfer/", counter.transfer, name="transfer"),
    path("sites/<uuid:pk>/add/", laying.add, name="add"),
    path("sites/<uuid:pk>/for/", laying.taker, name="taker"),
    path("sites/<uuid:pk>/ready/", laying.ready, name="ready"),
    path("sites/<uuid:pk>/found/", laying.found, name="found"),
    path("sites/<uuid:pk>/undo/", laying.undo, name="undo"),
    path("sites/<uuid:pk>/clear/", laying.clear, name="clear"),
    path("sites/<uuid:pk>/agree/", counter.agree, name="agree"),
    path("sites/<uuid:pk>/finish/", counter.finish, name="finish"),
    path("lines/<uuid:pk>/leave-out/", laying.leave_out, name="leave-out"),
    path("lines/<uuid:pk>/condition/", laying.condition, name="condition"),
    path("acts/<uuid:pk>/", acts.act, name="act"),
    path("sites/<uuid:pk>/reminders/", reminders.reminders, name="reminders"),
    path("sites/<uuid:pk>/reminders/rules/", reminders.rules, name="rules"),
    path("holders/<uuid:pk>/pause/", reminders.pause, name="pause"),
    path("holders/<uuid:pk>/end-pause/", reminders.end_pause, name="end-pause"),
    path("calendar/", feeds.feeds, name="feeds"),
    path("calendar/<uuid:pk>/renew/", feeds.renew_feed, name="renew-feed"),
    path("calendar/<uuid:pk>/end/", feeds.end_feed, name="end-feed"),
    path("calendar/<str:secret>.ics", feeds.feed, name="feed"),
]
