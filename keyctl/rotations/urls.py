from django.urls import path

from keyctl.rotations.views import acts, doors, page, starting

app_name = "rotations"
urlpatterns = [
    path("", page.index, name="list"),
    path("new/", starting.area, name="new"),
    path("new/keys/", starting.keys, name="new-keys"),
    path("doors/<uuid:pk>/", doors.door, name="door"),
    path("cores/<uuid:pk>/", doors.core, name="core"),
    path("<uuid:pk>/", page.detail, name="detail"),
    path("<uuid:pk>/doors/", doors.doors, name="doors"),
    path("<uuid:pk>/cores/", doors.cores, name="cores"),
    path("<uuid:pk>/terms/", acts.terms, name="terms"),
    path("<uuid:pk>/plan/", acts.plan, name="plan"),
    path("<uuid:pk>/accept/", acts.accept, name="accept"),
    path("<uuid:pk>/begin/", acts.begin, name="begin"),
    path("<uuid:pk>/later/", acts.later, name="later"),
    path("<uuid:pk>/pause/", acts.pause, name="pause"),
    path("<uuid:pk>/resume/", acts.resume, name="resume"),
    path("<uuid:pk>/finish/", acts.finish, name="finish"),
    path("<uuid:pk>/empty/", acts.empty, name="empty"),
    path("<uuid:pk>/cancel/", acts.cancel, name="cancel"),
]
