from django.urls import path

from keyctl.proofs import views

app_name = "proofs"
urlpatterns = [
    path("", views.proof_list, name="list"),
    path("prove/", views.prove, name="prove"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("findings/<int:pk>/accept/", views.accept, name="accept"),
    path("accepted/<uuid:pk>/end/", views.end, name="end-acceptance"),
]
