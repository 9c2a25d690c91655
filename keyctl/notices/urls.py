from django.urls import path

from keyctl.notices import views

app_name = "notices"
urlpatterns = [
    path("", views.notice_list, name="list"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/retry/", views.retry, name="retry"),
    path("sites/<uuid:pk>/test/", views.test, name="test"),
]
