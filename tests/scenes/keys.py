from typing import Any

from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    copy, site = base.copy.pk, base.cast.north.pk
    return {
        "keys:copy": copy,
        "keys:hand-out": copy,
        "keys:take-back": copy,
        "keys:lost": copy,
        "keys:destroy": copy,
        "keys:holder": base.holder.pk,
        "keys:cut": site,
        "keys:new-holder": site,
        "keys:drawing": base.change.pk,
    }
