app_name = "directory"
urlpatterns: list[object] = []
