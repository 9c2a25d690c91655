app_name = "scim"
urlpatterns: list[object] = []
