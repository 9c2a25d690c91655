from django.urls import path

from keyctl.imports import views

app_name = "imports"

urlpatterns = [
    path("", views.index, name="list"),
    path("new/", views.choose, name="new"),
    path("new/<slug:kind>/", views.bring, name="bring"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/report.csv", views.report, name="report"),
    path("<uuid:pk>/columns/", views.columns, name="columns"),
    path("<uuid:pk>/try/", views.try_again, name="try"),
    path("<uuid:pk>/take/", views.take, name="take"),
    path("<uuid:pk>/undo/", views.undo, name="undo"),
    path("<uuid:pk>/give-up/", views.leave, name="leave"),
]
