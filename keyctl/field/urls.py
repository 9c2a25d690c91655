app_name = "field"
urlpatterns: list[object] = []
