from django.urls import path

from keyctl.operations.history import views

app_name = "history"
urlpatterns = [
    path("", views.state, name="state"),
    path("verifier.py", views.checker, name="verifier"),
    path("<int:pk>/", views.event, name="event"),
    path("<int:pk>/proof.json", views.proof, name="proof"),
]
