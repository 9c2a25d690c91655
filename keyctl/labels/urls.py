from django.urls import path

from keyctl.labels import views

app_name = "labels"
urlpatterns = [
    path("", views.sites, name="sites"),
    path("sites/<uuid:pk>/", views.choose, name="print"),
    path("sites/<uuid:pk>/new-sheet/", views.new_grid, name="new-grid"),
    path("sheets/<uuid:pk>/", views.grid, name="grid"),
]
