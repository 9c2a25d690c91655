from django.urls import path

from keyctl.keys import views

app_name = "keys"
urlpatterns = [
    path("", views.desk, name="desk"),
    path("copies/<uuid:pk>/", views.copy, name="copy"),
    path("copies/<uuid:pk>/hand-out/", views.hand_out, name="hand-out"),
    path("copies/<uuid:pk>/take-back/", views.take_back, name="take-back"),
    path("copies/<uuid:pk>/lost/", views.lost, name="lost"),
    path("copies/<uuid:pk>/destroy/", views.destroy, name="destroy"),
    path("symbols/<uuid:pk>/cuts/", views.drawing, name="drawing"),
    path("holders/<uuid:pk>/", views.holder, name="holder"),
    path("sites/<uuid:pk>/cut/", views.cut, name="cut"),
    path("sites/<uuid:pk>/new-holder/", views.new_holder, name="new-holder"),
]
