from django.urls import path

from keyctl.search import views

app_name = "search"
urlpatterns = [path("", views.results, name="results")]
