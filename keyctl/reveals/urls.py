from django.urls import URLPattern

app_name = "reveals"
urlpatterns: list[URLPattern] = []
