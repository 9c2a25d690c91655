"""Django's SQLite, with a fair gate before everything that will write."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.db.backends.sqlite3 import base
from django.db.utils import OperationalError

from keyctl.lib.commits import WorkBeforeCommit
from keyctl.lib.gate import Gate, GateClosed, gate_for

DEFAULT_TIMEOUT_S = 5.0
WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")


class DatabaseWrapper(WorkBeforeCommit, base.DatabaseWrapper):
    """Holds the gate from BEGIN IMMEDIATE until the transaction has ended, however it ends.

    A statement that writes outside of a transaction is one by itself, and holds it as long.
    """

    _held: Gate | None = None
    _opened: tuple[int, int] | None = None
    _is_read_only = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.execute_wrappers.append(self._write_alone)

    def _write_alone(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
    ) -> Any:
        if self._held is not None or self.in_atomic_block or not sql.startswith(WRITES):
            return execute(sql, params, many, context)
        self._enter_gate()
        try:
            return execute(sql, params, many, context)
        finally:
            self._leave_gate()

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        made = super().get_new_connection(conn_params)
        self._opened = self._file()
        self._is_read_only = not os.access(self.settings_dict["NAME"], os.W_OK)
        return made

    def close_if_unusable_or_obsolete(self) -> None:
        """Between two requests: neither to write on into a file that a restored one has taken the place of,
        nor to stay with one that could not be written when it was opened."""
        is_old = self._is_read_only or self._file() != self._opened
        if self.connection is not None and not self.in_atomic_block and is_old:
            self.close()
        super().close_if_unusable_or_obsolete()

    def _file(self) -> tuple[int, int] | None:
        try:
            found = os.stat(self.settings_dict["NAME"])  # noqa: PTH116 (the name may be of no file)
        except (OSError, ValueError):
            return None
        return found.st_dev, found.st_ino

    def _start_transaction_under_autocommit(self) -> None:
        self._enter_gate()
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc]
        except BaseException:
            self._leave_gate()
            raise

    def _commit(self) -> None:
        # Where it fails the transaction is still open; a rollback follows.
        super()._commit()
        self._leave_gate()

    def _rollback(self) -> None:
        try:
            super()._rollback()
        finally:
            self._leave_gate()

    def _close(self) -> None:
        try:
            super()._close()
        finally:
            self._leave_gate()

    def _enter_gate(self) -> None:
        if self.is_in_memory_db() or self.settings_dict["OPTIONS"].get("transaction_mode") != "IMMEDIATE":
            return
        gate = gate_for(Path(self.settings_dict["NAME"]))
        try:
            gate.enter(self.settings_dict["OPTIONS"].get("timeout", DEFAULT_TIMEOUT_S))
        except GateClosed as closed:
            raise OperationalError(str(closed)) from closed
        self._held = gate

    def _leave_gate(self) -> None:
        gate, self._held = self._held, None
        if gate is not None:
            gate.leave()
