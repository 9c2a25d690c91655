from django.urls import path

from keyctl.exports import views
from keyctl.exports.cobie import views as cobie

app_name = "exports"
urlpatterns = [
    path("", views.register, name="register"),
    path("tables/<slug:name>/", views.table, name="table"),
    path("cobie/<uuid:pk>/", cobie.export, name="cobie"),
]
