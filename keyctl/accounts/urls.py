from django.urls import path

from keyctl.accounts.views import factors, own, provider, proving, sessions, signing, ways_back

app_name = "accounts"
urlpatterns = [
    path("sign-in/", signing.sign_in, name="sign-in"),
    path("sign-in/second-factor/", signing.second_factor, name="second-factor"),
    path("sign-in/passkey/", signing.sign_in_by_passkey, name="sign-in-passkey"),
    path("sign-in/passkey/options/", signing.passkey_options, name="passkey-options"),
    path("sign-in/way-back/", ways_back.way_back, name="way-back"),
    path("sign-in/provider/", provider.start, name="provider"),
    path("sign-in/provider/back/", provider.callback, name="provider-callback"),
    path("sign-out/", signing.sign_out, name="sign-out"),
    path("prove/", proving.prove, name="prove"),
    path("me/", own.me, name="me"),
    path("me/password/", own.password, name="password"),
    path("me/speech/", own.speak, name="speak"),
    path("factors/", factors.factors, name="factors"),
    path("factors/app/", factors.add_app, name="add-app"),
    path("factors/passkey/", factors.add_passkey, name="add-passkey"),
    path("factors/remove/", factors.remove, name="remove-factor"),
    path("factors/recovery-codes/", factors.recovery_codes, name="recovery-codes"),
    path("sessions/", sessions.sessions, name="sessions"),
    path("sessions/end/", sessions.end, name="end-session"),
]
