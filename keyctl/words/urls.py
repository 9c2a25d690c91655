from django.urls import path

from keyctl.words import views

app_name = "words"
urlpatterns = [path("", views.glossary, name="list")]
