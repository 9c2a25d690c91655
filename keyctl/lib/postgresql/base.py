"""Django's PostgreSQL, with work that is done just before a transaction commits."""

from django.db.backends.postgresql import base

from keyctl.lib.commits import WorkBeforeCommit


class DatabaseWrapper(WorkBeforeCommit, base.DatabaseWrapper):
    pass
