"""A token of a program, and a kind of problem that it may be told of."""

from typing import Any

from keyctl.api.models import Token
from tests.api.client import make_api
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    made = make_api(base.cast.administrator, base.cast.north)
    assert made.bearer
    return {
        "api:revoke-token": Token.objects.get(prefix=made.bearer.split("_")[1]).pk,
        "api:problem": "not-found",
    }
