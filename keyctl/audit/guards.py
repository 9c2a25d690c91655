"""Triggers that keep history append-only whoever asks the database, as they stand in it.

They stop what happens by mistake and by programs of others. Whoever owns the database can drop them; that
is what checkpoints are for, and `check_history` compares the triggers with the text here.
"""

from collections.abc import Iterator

from django.db.backends.base.base import BaseDatabaseWrapper

TABLES = ("audit_event", "audit_eventsubject", "audit_link")
REFUSAL = "history is append-only: record a correcting event instead"

_IS_LINKED = "EXISTS (SELECT 1 FROM audit_link WHERE event_id = NEW.event_id)"
# What an INSERT OR REPLACE would push aside; without `recursive_triggers` no trigger sees it go.
_TAKEN = {
    "audit_event": "EXISTS (SELECT 1 FROM audit_event WHERE id = NEW.id)",
    "audit_eventsubject": "EXISTS (SELECT 1 FROM audit_eventsubject WHERE id = NEW.id) OR " + _IS_LINKED,  # noqa: S608 (no text of others)
    "audit_link": "EXISTS (SELECT 1 FROM audit_link WHERE number = NEW.number OR event_id = NEW.event_id)",
    "audit_head": "EXISTS (SELECT 1 FROM audit_head)",
}
# The head moves on and never back.
_HEAD_STAYS = "NEW.id <> OLD.id OR NEW.number <= OLD.number"

_RAISE = f"RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'"
_FUNCTION = f"""
BEGIN
    {_RAISE};
END
"""
_LATE_FUNCTION = f"""
BEGIN
    IF {_IS_LINKED} THEN
        {_RAISE};
    END IF;
    RETURN NEW;
END
"""
ON_SQLITE = """
    SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND substr(tbl_name, 1, 6) = 'audit_'
"""
ON_POSTGRESQL = """
    SELECT t.tgname, pg_get_triggerdef(t.oid, true), t.tgenabled
    FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
    WHERE starts_with(c.relname::text, 'audit_') AND NOT t.tgisinternal AND pg_table_is_visible(c.oid)
"""
FUNCTIONS_THERE = (
    "SELECT proname, prosrc FROM pg_proc WHERE proname = ANY(%s) AND pg_function_is_visible(oid)"
)
FUNCTIONS = {"history_refuses": _FUNCTION, "history_refuses_late_subject": _LATE_FUNCTION}


def install(connection: BaseDatabaseWrapper) -> None:
    """Put them into the database as they stand here, whatever stood there before."""
    remove(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for name, body in FUNCTIONS.items():
                cursor.execute(f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$")
        for name, (table, text) in wanted(connection).items():
            cursor.execute(text)
            if connection.vendor == "postgresql":
                cursor.execute(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}")


def remove(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        for name, (table, _) in wanted(connection).items():
            on_table = f" ON {table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on_table}")
        if connection.vendor == "postgresql":
            for name in FUNCTIONS:
                cursor.execute(f"DROP FUNCTION IF EXISTS {name}()")


def guard_findings(connection: BaseDatabaseWrapper) -> Iterator[str]:
    found = present(connection)
    for name, (_, text) in wanted(connection).items():
        if name not in found:
            yield f"trigger {name}: it is missing."
        elif found[name] != text:
            yield f"trigger {name}: it is not as it was made."
    foreign = sorted(found.keys() - wanted(connection))
    yield from (f"trigger {name}: keyctl did not make it." for name in foreign)
    if connection.vendor == "postgresql":
        yield from _function_findings(connection)


def wanted(connection: BaseDatabaseWrapper) -> dict[str, tuple[str, str]]:
    """Name to table and text."""
    makers = _on_postgresql() if connection.vendor == "postgresql" else _on_sqlite()
    return {name: (table, text) for name, table, text in makers}


def present(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The triggers on the tables of history, with their text; on PostgreSQL only those that always fire."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(ON_POSTGRESQL)
            return {name: text if fires == "A" else "" for name, text, fires in cursor.fetchall()}
        cursor.execute(ON_SQLITE)
        return dict(cursor.fetchall())


def _on_sqlite() -> Iterator[tuple[str, str, str]]:
    for table in TABLES:
        for act in ("UPDATE", "DELETE"):
            yield _sqlite_trigger(table, act, "")
    yield _sqlite_trigger("audit_head", "UPDATE", _HEAD_STAYS)
    yield _sqlite_trigger("audit_head", "DELETE", "")
    for table, taken in _TAKEN.items():
        yield _sqlite_trigger(table, "INSERT", taken)


def _sqlite_trigger(table: str, act: str, when: str) -> tuple[str, str, str]:
    name = f"{table}_keeps_{act.lower()}"
    condition = f" WHEN {when}" if when else ""
    body = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    return name, table, f"CREATE TRIGGER {name} BEFORE {act} ON {table}{condition} {body}"


def _on_postgresql() -> Iterator[tuple[str, str, str]]:
    for table in TABLES:
        yield _postgresql_trigger(table, "rows", "DELETE OR UPDATE", "ROW")
    yield _postgresql_trigger("audit_head", "rows", "DELETE", "ROW")
    yield _postgresql_trigger(
        "audit_head", "back", "UPDATE", "ROW", " WHEN (new.id <> old.id OR new.number <= old.number)"
    )
    for table in (*TABLES, "audit_head"):
        yield _postgresql_trigger(table, "truncate", "TRUNCATE", "STATEMENT")
    name, table = "audit_eventsubject_keeps_insert", "audit_eventsubject"
    function = "EXECUTE FUNCTION history_refuses_late_subject()"
    yield name, table, f"CREATE TRIGGER {name} BEFORE INSERT ON {table} FOR EACH ROW {function}"


def _postgresql_trigger(table: str, what: str, act: str, each: str, when: str = "") -> tuple[str, str, str]:
    """As PostgreSQL writes it down itself."""
    name = f"{table}_keeps_{what}"
    head = f"CREATE TRIGGER {name} BEFORE {act} ON {table} FOR EACH {each}"
    return name, table, f"{head}{when} EXECUTE FUNCTION history_refuses()"


def _function_findings(connection: BaseDatabaseWrapper) -> Iterator[str]:
    with connection.cursor() as cursor:
        cursor.execute(FUNCTIONS_THERE, [list(FUNCTIONS)])
        found = dict(cursor.fetchall())
    for name, body in FUNCTIONS.items():
        if found.get(name) != body:
            yield f"function {name}: it is missing or not as it was made."
