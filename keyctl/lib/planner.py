"""What the database knows of its own tables, by which it chooses how to answer."""

from datetime import datetime

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text

# Fewer rows at once change no choice.
MANY = 1000
# SQLite never does so by itself. It looks at a part of each table that it has never looked at, or that is now
# another by a multiple (0x10012: all tables, analyse, within bounds), and so takes milliseconds.
LOOK_ANEW = {"sqlite": "PRAGMA optimize(0x10012)", "postgresql": "ANALYZE"}
LOOKED = kept_text(gettext_noop("The database knows how large its tables are."))


def look_anew_every_day(_moment: datetime) -> str:
    """An estate also grows by hand."""
    look_anew()
    return LOOKED


def look_anew(using: str = DEFAULT_DB_ALIAS) -> None:
    """After bulk work: until then the database answers as if its tables were as small as before it.

    PostgreSQL comes to it by itself within minutes; people ask at once.
    """
    connection = connections[using]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        cursor.execute(LOOK_ANEW[connection.vendor])
