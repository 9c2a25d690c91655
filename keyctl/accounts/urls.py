from django.urls import path

from keyctl.accounts import views

app_name = "accounts"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("me/", views.me, name="me"),
    path("me/password/", views.password, name="password"),
]
