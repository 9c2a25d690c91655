"""What the routes of accounts ask for."""

from keyctl.lib.policy import Policy

POLICIES = {
    "sign-in": Policy.for_all("GET", "POST"),
    "sign-in-passkey": Policy.for_all("POST"),
    "passkey-options": Policy.for_all("GET"),
    "second-factor": Policy.for_all("GET", "POST"),
    "provider": Policy.for_all("POST"),
    "provider-callback": Policy.for_all("GET"),
    "way-back": Policy.for_all("GET", "POST"),
    "sign-out": Policy.for_all("POST"),
    "prove": Policy.for_signed_in("GET", "POST"),
    "me": Policy.for_signed_in("GET"),
    "password": Policy.for_signed_in("POST"),
    "speak": Policy.for_signed_in("POST"),
    "factors": Policy.for_signed_in("GET"),
    "add-app": Policy.for_signed_in("GET", "POST"),
    "add-passkey": Policy.for_signed_in("GET", "POST"),
    "remove-factor": Policy.for_signed_in("POST"),
    "recovery-codes": Policy.for_signed_in("GET", "POST"),
    "sessions": Policy.for_signed_in("GET"),
    "end-session": Policy.for_signed_in("POST"),
}
