from django.urls import path

from keyctl.accounts.views import own, proving, signing

app_name = "accounts"
urlpatterns = [
    path("sign-in/", signing.sign_in, name="sign-in"),
    path("sign-in/second-factor/", signing.second_factor, name="second-factor"),
    path("sign-in/passkey/", signing.sign_in_by_passkey, name="sign-in-passkey"),
    path("sign-in/passkey/options/", signing.passkey_options, name="passkey-options"),
    path("sign-out/", signing.sign_out, name="sign-out"),
    path("prove/", proving.prove, name="prove"),
    path("me/", own.me, name="me"),
    path("me/password/", own.password, name="password"),
]
