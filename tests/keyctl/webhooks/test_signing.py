"""Signatures against the specification's own library (standardwebhooks), and against the vector that its
authors' libraries publish (from memory; the library agrees with it here).
"""

from datetime import UTC, datetime, timedelta

import pytest
from standardwebhooks import Webhook, WebhookVerificationError

from keyctl.webhooks.signing import headers, new_secret, signature

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MESSAGE, AT, BODY = "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, b'{"test": 2432232314}'


def test_the_published_vector() -> None:
    signed = signature(MESSAGE, AT, BODY, SECRET)
    assert signed == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
    theirs = Webhook(SECRET).sign(MESSAGE, datetime.fromtimestamp(AT, UTC), BODY.decode())
    assert signed == theirs


def now() -> int:
    return int(datetime.now(UTC).timestamp())


def test_a_receiver_who_knows_either_secret_believes_it() -> None:
    old, new = new_secret(), new_secret()
    sent = headers("msg_1", now(), '{"a":"ü"}'.encode(), [new, old])
    for secret in (old, new):
        assert Webhook(secret).verify('{"a":"ü"}'.encode(), sent) == {"a": "ü"}
    with pytest.raises(WebhookVerificationError):
        Webhook(new_secret()).verify('{"a":"ü"}'.encode(), sent)


@pytest.mark.parametrize("change", ["body", "webhook-id", "webhook-timestamp"])
def test_whatever_is_changed_on_the_way_is_not_believed(change: str) -> None:
    secret = new_secret()
    sent = headers("msg_1", now(), b"{}", [secret])
    assert Webhook(secret).verify(b"{}", sent) == {}
    body = b"[]" if change == "body" else b"{}"
    later = {"webhook-id": "msg_2", "webhook-timestamp": str(now() + 1)}
    with pytest.raises(WebhookVerificationError):
        Webhook(secret).verify(body, sent | ({change: later[change]} if change in later else {}))


def test_an_old_message_is_not_believed() -> None:
    secret = new_secret()
    old = int((datetime.now(UTC) - timedelta(minutes=6)).timestamp())
    with pytest.raises(WebhookVerificationError):
        Webhook(secret).verify(b"{}", headers("msg_1", old, b"{}", [secret]))


def test_secrets_are_as_long_as_the_specification_wants() -> None:
    """Between 24 and 64 bytes in base64 after the prefix, and never the same."""
    import base64

    made = {new_secret() for _ in range(20)}
    assert len(made) == 20
    for secret in made:
        assert secret.startswith("whsec_")
        assert 24 <= len(base64.b64decode(secret.removeprefix("whsec_"), validate=True)) <= 64
