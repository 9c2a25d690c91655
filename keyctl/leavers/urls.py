app_name = "leavers"
urlpatterns: list[object] = []
