from django.urls import path

from keyctl.jobs import views

app_name = "jobs"
urlpatterns = [
    path("", views.job_list, name="list"),
    path("routines/", views.routines, name="routines"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/stop/", views.cancel, name="cancel"),
    path("<uuid:pk>/go-on/", views.resume, name="resume"),
    path("files/<uuid:pk>/", views.file, name="file"),
]
