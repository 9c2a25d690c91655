from django.urls import path, re_path

from keyctl.scim import views

app_name = "scim"
urlpatterns = [
    path("ServiceProviderConfig", views.Config.as_view(), name="config"),
    path("ResourceTypes", views.ResourceTypes.as_view(), name="resource-types"),
    path("ResourceTypes/<str:pk>", views.ResourceTypes.as_view(), name="resource-type"),
    path("Schemas", views.Schemas.as_view(), name="schemas"),
    path("Schemas/<str:pk>", views.Schemas.as_view(), name="schema"),
    path("Users", views.Users.as_view(), name="users"),
    path("Users/.search", views.Search.as_view(), name="search"),
    path(".search", views.Search.as_view(), name="search-all"),
    path("Users/<str:pk>", views.OneUser.as_view(), name="user"),
    path("Groups", views.Groups.as_view(), name="groups"),
    path("Me", views.Unsupported.as_view(), name="me"),
    path("Bulk", views.Unsupported.as_view(), name="bulk"),
    re_path("", views.Nowhere.as_view(), name="nowhere"),
]
