"""Work that is done just before a transaction commits, in that transaction.

Django calls back after a commit. What must be there together with everything that the transaction wrote is
written here, as its last statements.
"""

from collections.abc import Callable
from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

Work = Callable[[BaseDatabaseWrapper, list[Any]], None]


class WorkBeforeCommit(BaseDatabaseWrapper):
    """Mixed into the wrapper of a database, before Django's."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.due_before_commit: dict[Work, list[Any]] = {}

    def _commit(self) -> None:
        try:
            self._do_due_work()
        except BaseException:
            # Whatever it was: nobody else would end the transaction then.
            self.rollback()
            raise
        super()._commit()  # type: ignore[misc]

    def _rollback(self) -> None:
        self.due_before_commit.clear()
        super()._rollback()  # type: ignore[misc]

    def _close(self) -> None:
        self.due_before_commit.clear()
        super()._close()  # type: ignore[misc]

    def _do_due_work(self) -> None:
        due, self.due_before_commit = self.due_before_commit, {}
        for work, items in due.items():
            work(self, items)


def before_commit(using: str, work: Work, item: Any) -> None:
    """``work`` will be called once, with the connection and all items that this transaction noted for it.

    An item noted inside a savepoint that was rolled back is still there: the work looks what is left of it.
    """
    connection = connections[using]
    if not isinstance(connection, WorkBeforeCommit) or not connection.in_atomic_block:
        raise TypeError(
            "Only a transaction of one of keyctl's own database wrappers does work before its end."
        )
    connection.due_before_commit.setdefault(work, []).append(item)
