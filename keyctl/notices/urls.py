app_name = "notices"
urlpatterns: list[object] = []
