app_name = "losses"
urlpatterns: list[object] = []
