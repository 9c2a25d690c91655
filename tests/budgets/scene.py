"""One of everything, and somebody of each kind to ask about it: what `test_permissions.py` walks through, and
what is missing there of the rows that a page lists."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.test import override_settings

from tests.budgets.also import add
from tests.cast import Cast
from tests.matrix import programs
from tests.matrix.asking import Asker, quiet
from tests.matrix.exceptions import sent
from tests.matrix.people import gather_sessions
from tests.scenes import build_routes


@contextmanager
def ready(cast: Cast) -> Iterator[Asker]:
    contact = override_settings(SECURITY_CONTACT="mailto:security@example.org")
    with quiet(), contact:
        sessions = gather_sessions(cast)
        base, objects = build_routes(cast)
        objects |= programs.objects(base, objects)
        add(base)
        yield Asker(sessions, objects, sent(base, objects), programs.gather_bearers(cast))
