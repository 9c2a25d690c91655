from django.urls import path

from keyctl.stock import views

app_name = "stock"
urlpatterns = [
    path("", views.sites, name="list"),
    path("sites/<uuid:pk>/", views.site, name="site"),
    path("sites/<uuid:pk>/reorder/", views.reorder, name="reorder"),
    path("sites/<uuid:pk>/add-kit/", views.add_kit, name="add-kit"),
    path("sites/<uuid:pk>/count/", views.count, name="count"),
    path("sites/<uuid:pk>/receive/", views.receive, name="receive"),
    path("sites/<uuid:pk>/marks/", views.marks, name="marks"),
    path("bins/<uuid:pk>/", views.bin_, name="bin"),
    path("bins/<uuid:pk>/count/", views.count_bin, name="count-bin"),
    path("bins/<uuid:pk>/move/", views.move_bin, name="move-bin"),
    path("bins/<uuid:pk>/mark/", views.mark_bin, name="mark-bin"),
]
