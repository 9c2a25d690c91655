"""Keeping the list: watching after a migration, beginning anew after a restore, forgetting what is gone."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.translation import gettext_noop

from keyctl.feed import triggers
from keyctl.feed.companions import companions
from keyctl.feed.kinds import KINDS
from keyctl.feed.models import Beginning, Change, Note
from keyctl.feed.relisting import list_everything_again, take_lock
from keyctl.lib.retold import kept_text

# A reader that was away for longer begins anew.
GONE_IS_KEPT_FOR = timedelta(days=90)
WATCHED = kept_text(gettext_noop("Every table is watched."))
WATCHED_AGAIN = kept_text(
    gettext_noop("Triggers were missing or altered; they are back, and everything is listed again.")
)
NOTHING_GONE = kept_text(gettext_noop("Nothing is gone for so long."))
FORGOTTEN = kept_text(gettext_noop("Things gone for more than {days} days, forgotten: {count}."))


@contextmanager
def unwatched(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """While tables are changed nothing is listed; afterwards all is listed again, once.

    SQLite copies a table to change it and renames the copy, which it refuses while a trigger names the table.
    """
    triggers.remove(connection)
    yield
    watch_again(connection)


def watch_again(connection: BaseDatabaseWrapper) -> bool:
    """Put back what is missing; whether anything was. Readers go on where they are."""
    if not _has_tables(connection) or (triggers.are_sound(connection) and _has_begun(connection)):
        return False
    with transaction.atomic(using=connection.alias):
        triggers.install(connection)
        _begin(connection)
        list_everything_again(connection)
        for each in companions():
            each.begin(connection, False)
    return True


def begin_anew(connection: BaseDatabaseWrapper) -> None:
    """Another row of numbers: whoever read up to here is told to begin anew."""
    with transaction.atomic(using=connection.alias):
        triggers.install(connection)
        take_lock(connection)
        Change.objects.using(connection.alias).all().delete()
        Beginning.objects.using(connection.alias).all().delete()
        _begin(connection)
        list_everything_again(connection)
        for each in companions():
            each.begin(connection, True)


def watch_where_nobody_does(_now: datetime) -> str:
    """The routine: triggers that somebody dropped come back, and what happened meanwhile is listed."""
    if watch_again(connections["default"]):
        return WATCHED_AGAIN
    return WATCHED


def forget_what_is_long_gone(now: datetime) -> str:
    """The routine. The lock first: nothing gets a number meanwhile."""
    with transaction.atomic():
        take_lock(connections["default"])
        # The last row stays, whatever it tells: SQLite numbers on from it.
        last = Change.objects.order_by("-sequence").values("sequence")[:1]
        old = Change.objects.filter(deleted=True, at__lt=now - GONE_IS_KEPT_FOR).exclude(sequence__in=last)
        newest = old.order_by("-sequence").values_list("sequence", flat=True).first()
        if newest is None:
            return NOTHING_GONE
        Beginning.objects.filter(forgotten_up_to__lt=newest).update(forgotten_up_to=newest)
        count, _ = old.filter(sequence__lte=newest).delete()
    return FORGOTTEN.format(days=GONE_IS_KEPT_FOR.days, count=count)


def _begin(connection: BaseDatabaseWrapper) -> None:
    if not _has_begun(connection):
        Beginning.objects.using(connection.alias).create(name=os.urandom(6).hex())


def _has_begun(connection: BaseDatabaseWrapper) -> bool:
    return Beginning.objects.using(connection.alias).exists()


def _has_tables(connection: BaseDatabaseWrapper) -> bool:
    """A migration may lead to a place where there is no feed yet, or not everything that it watches."""
    own = {model._meta.db_table for model in (Change, Note, Beginning)}
    wanted = own | {table for table, *_ in triggers.wanted(connection.vendor).values()}
    wanted |= {kind.table for kind in KINDS.values()}
    wanted = wanted.union(*(each.tables for each in companions()))
    return wanted <= set(connection.introspection.table_names())
