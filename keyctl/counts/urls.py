app_name = "counts"
urlpatterns: list[object] = []
