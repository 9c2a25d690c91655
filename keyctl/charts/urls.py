from django.urls import path

from keyctl.charts import views

app_name = "charts"

urlpatterns = [
    path("", views.index, name="list"),
    path("begin/", views.begin, name="begin"),
    path("example/", views.example, name="example"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/draw/", views.draw, name="draw"),
    path("<uuid:pk>/table/", views.table, name="table"),
    path("<uuid:pk>/mark/", views.mark, name="mark"),
    path("<uuid:pk>/accept/", views.accept, name="accept"),
    path("<uuid:pk>/rules/", views.rules, name="rules"),
    path("<uuid:pk>/solve/", views.solve, name="solve"),
    path("<uuid:pk>/make/", views.make, name="make"),
]
