"""What the database knows of its own tables, by which it chooses how to answer."""

from datetime import datetime

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text

# Fewer rows at once change no choice.
MANY = 1000
# SQLite never does so by itself. It counts so many rows of each index: half a second for 100,000 doors, where
# counting all takes three times as long. Its own bound ("PRAGMA optimize") is some hundred rows: a site of
# 16,000 cores was taken for one of 200, and for the first five by date every site was read whole.
LOOK_ANEW = {"sqlite": ("PRAGMA analysis_limit=20000", "ANALYZE"), "postgresql": ("ANALYZE",)}
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
        for statement in LOOK_ANEW[connection.vendor]:
            cursor.execute(statement)
