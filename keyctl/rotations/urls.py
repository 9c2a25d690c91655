app_name = "rotations"
urlpatterns: list[object] = []
