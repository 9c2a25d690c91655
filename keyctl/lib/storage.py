"""When the disk or the database cannot take or give what was asked: what it is called, and the remedy.

A write that meets it was taken back whole; reads go on where they can, and nobody need start anything again.
"""

import errno
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.gate import GateClosed
from keyctl.lib.http import problem
from keyctl.lib.language import Text

# What a transaction of SQLite may want to grow its files by.
LEAST_ROOM = 256 * 1024


@dataclass(frozen=True)
class Trouble:
    status: HTTPStatus
    title: Text
    remedy: Text
    # After how many seconds it may be over by itself.
    again_in_s: int | None = None
    # A commit may have been done before its answer was lost.
    is_undone: bool = True

    @property
    def outcome(self) -> str:
        if self.is_undone:
            return _("This was not done; what was confirmed before is kept.")
        return _("Whether this was done is not known: look before you do it again.")


FULL = Trouble(
    HTTPStatus.INSUFFICIENT_STORAGE,
    gettext_lazy("There is no room left"),
    gettext_lazy(
        "The disk that holds the database is full. Whoever runs keyctl makes room on it; then send "
        "it once more."
    ),
)
READ_ONLY = Trouble(
    HTTPStatus.SERVICE_UNAVAILABLE,
    gettext_lazy("Nothing can be written now"),
    gettext_lazy(
        "The database can be read and not written. Whoever runs keyctl makes its files, its disk or "
        "its server writable again; then send it once more."
    ),
)
BUSY = Trouble(
    HTTPStatus.SERVICE_UNAVAILABLE,
    gettext_lazy("Others were writing all the time"),
    gettext_lazy("The turn did not come in time. Wait a moment, then send it once more."),
    again_in_s=2,
)
AWAY = Trouble(
    HTTPStatus.SERVICE_UNAVAILABLE,
    gettext_lazy("The database does not answer"),
    gettext_lazy("Whoever runs keyctl looks whether it runs. Wait a moment, then try once more."),
    again_in_s=5,
    is_undone=False,
)
BROKEN = Trouble(
    HTTPStatus.SERVICE_UNAVAILABLE,
    gettext_lazy("The disk does not answer properly"),
    gettext_lazy(
        "Whoever runs keyctl checks the disk under the database before anything else. Then try once more."
    ),
    is_undone=False,
)

# SQLite's result codes; the lowest byte of an extended one.
ON_SQLITE = {5: BUSY, 6: BUSY, 8: READ_ONLY, 10: BROKEN, 13: FULL, 14: AWAY}
# PostgreSQL's, by appendix A of its manual: the whole code first, then its class.
ON_POSTGRESQL = {
    "25006": READ_ONLY,
    "53100": FULL,
    "55P03": BUSY,
    "40P01": BUSY,
    "40001": BUSY,
    "57P01": AWAY,
    "57P02": AWAY,
    "57P03": AWAY,
    "53": AWAY,
    "08": AWAY,
    "58": BROKEN,
}
OF_THE_SYSTEM = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EROFS: READ_ONLY,
    errno.EIO: BROKEN,
}


def trouble_in(error: BaseException | None) -> Trouble | None:
    """The trouble that an exception, or one that it came from, tells of; None where it is another fault."""
    for each in _causes(error):
        if found := _of(each):
            return found
    return None


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    """The first cause first: what others made of it says less."""
    if error is not None:
        yield from _causes(error.__cause__)
        yield error


def _of(error: BaseException) -> Trouble | None:
    if (code := getattr(error, "sqlite_errorcode", None)) is not None:
        return _full_or(ON_SQLITE.get(code & 0xFF))
    if (state := getattr(error, "sqlstate", None)) is not None:
        return ON_POSTGRESQL.get(state, ON_POSTGRESQL.get(state[:2]))
    if isinstance(error, OSError):
        return OF_THE_SYSTEM.get(error.errno or 0)
    if isinstance(error, GateClosed):
        return BUSY
    return AWAY if _is_lost(error) else None


def _full_or(trouble: Trouble | None) -> Trouble | None:
    """Where a file cannot grow, SQLite calls it an error of the disk as well."""
    is_full = trouble is BROKEN and shutil.disk_usage(settings.DATA_DIR).free < LEAST_ROOM
    return FULL if is_full else trouble


def _is_lost(error: BaseException) -> bool:
    """PostgreSQL's library gives no code where the connection itself ended, or never came to be."""
    name = f"{type(error).__module__}.{type(error).__name__}"
    return name.startswith("psycopg.") and name.endswith(("OperationalError", "InterfaceError"))


def tell(request: HttpRequest, trouble: Trouble) -> HttpResponse:
    """A page for who reads pages, else a problem (RFC 9457). The page asks nothing of the database."""
    headers = {} if trouble.again_in_s is None else {"Retry-After": str(trouble.again_in_s)}
    if "text/html" in request.META.get("HTTP_ACCEPT", "") or "HTTP_HX_REQUEST" in request.META:
        page = loader.get_template("storage.html").render({"trouble": trouble})
        return HttpResponse(page, status=trouble.status, headers=headers)
    words = f"{trouble.outcome} {trouble.remedy}"
    return problem(trouble.status, words, title=trouble.title, headers=headers)
