from django.urls import path

from keyctl.prints import views

app_name = "prints"
urlpatterns = [
    path("orders/<uuid:pk>/pinning-sheet/", views.pinning_sheet, name="pinning-sheet"),
    path("orders/<uuid:pk>/cutting-list/", views.cutting_list, name="cutting-list"),
]
