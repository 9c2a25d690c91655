"""A token of a program, and a kind of problem that it may be told of."""

from typing import Any

from keyctl.api.models import Scope, Token
from tests.api.client import make_api
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    made = make_api(base.cast.administrator, base.cast.north)
    assert made.bearer
    for_pins = make_api(
        base.cast.administrator, base.cast.north, scopes=[Scope.PINNING_READ], networks="192.0.2.7"
    )
    assert for_pins.bearer
    reader = Token.objects.get(prefix=for_pins.bearer.split("_")[1]).pk
    return {
        **dict.fromkeys(["api:open-window", "api:close-window"], reader),
        "api:revoke-token": Token.objects.get(prefix=made.bearer.split("_")[1]).pk,
        "api:problem": "not-found",
    }
