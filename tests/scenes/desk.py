"""The key desk, and the mail that goes out."""

from typing import Any

from keyctl.notices.services import send_notice
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    return of_notices(base)


def of_notices(base: Base) -> dict[str, Any]:
    site = base.cast.north
    notice = send_notice(
        to="nowhere", name="Ann", kind="test", template="test", facts={"site": site}, site=site
    )
    assert notice is not None
    return {"notices:detail": notice.pk, "notices:retry": notice.pk, "notices:test": site.pk}
