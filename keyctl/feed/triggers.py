"""Triggers that list every change, whoever makes it and by whatever statement.

On SQLite they list at once: a writer is alone until it commits, so numbers come in the order of commits. On
PostgreSQL many write at a time: statements note what they changed, and a trigger that is deferred to the
commit numbers the notes under a lock. Only the head of history is locked after it, by everybody.
"""

from collections.abc import Iterator
from itertools import chain, groupby

from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.feed.companions import companions
from keyctl.feed.kinds import KINDS, WATCHES, Kind, Watch
from keyctl.feed.relisting import LOCK, lifted, relisted

# Each with the row that names the thing.
ACTS = {"INSERT": "NEW", "UPDATE": "NEW", "DELETE": "OLD"}
NUMBERING = "feed_numbers"
ON_SQLITE = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND substr(name, 1, 5) = 'feed_'"
ON_POSTGRESQL = """
    SELECT t.tgname, pg_get_triggerdef(t.oid, true), p.prosrc
    FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid
    WHERE starts_with(t.tgname::text, 'feed_') AND NOT t.tgisinternal AND pg_table_is_visible(t.tgrelid)
"""

# Name to its table, the text that makes it and, on PostgreSQL, the body of its function.
Triggers = dict[str, tuple[str, str, str]]


def install(connection: BaseDatabaseWrapper) -> None:
    """Put them into the database as they stand here, whatever stood there before."""
    remove(connection)
    with connection.cursor() as cursor:
        for name, (_, text, body) in wanted(connection.vendor).items():
            if body:
                cursor.execute(f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$")
            cursor.execute(text)


def remove(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        cursor.execute(ON_POSTGRESQL if connection.vendor == "postgresql" else ON_SQLITE)
        there = [row[0] for row in cursor.fetchall()]
        for name in there:
            if connection.vendor == "postgresql":
                # Its trigger goes along.
                cursor.execute(f"DROP FUNCTION {name}() CASCADE")
            else:
                cursor.execute(f"DROP TRIGGER {name}")


def are_sound(connection: BaseDatabaseWrapper) -> bool:
    """Whether all stand there as they were made, and no others."""
    return present(connection) == {
        name: (text, body) for name, (_, text, body) in wanted(connection.vendor).items()
    }


def present(connection: BaseDatabaseWrapper) -> dict[str, tuple[str, str]]:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(ON_POSTGRESQL)
            return {name: (text, body) for name, text, body in cursor.fetchall()}
        cursor.execute(ON_SQLITE)
        return {name: (text, "") for name, text in cursor.fetchall()}


def wanted(vendor: str) -> Triggers:
    own = _on_postgresql() if vendor == "postgresql" else _on_sqlite()
    others = (trigger for each in companions() for trigger in each.triggers(vendor))
    return {name: (table, text, body) for name, table, text, body in chain(own, others)}


def _by_table() -> Iterator[tuple[str, list[Watch]]]:
    for table, watches in groupby(sorted(WATCHES, key=lambda watch: watch.table), lambda watch: watch.table):
        yield table, list(watches)


def _on_sqlite() -> Iterator[tuple[str, str, str, str]]:
    for table, watches in _by_table():
        lists: dict[tuple[str, str], list[str]] = {}
        for watch in watches:
            for act, when, statements in _parts(watch):
                lists.setdefault((act, when), []).extend(statements)
        for nth, ((act, when), statements) in enumerate(lists.items()):
            name = f"feed_{table}_{nth}"
            head = f"CREATE TRIGGER {name} AFTER {act} ON {table} FOR EACH ROW{when}"
            yield name, table, f"{head} BEGIN {'; '.join(statements)}; END", ""


def _parts(watch: Watch) -> Iterator[tuple[str, str, list[str]]]:
    """On which act, when, and what is done then. A thing that neither came, went nor moved is only lifted."""
    kind, column = KINDS[watch.kind], watch.column
    if watch.follow or not kind.place:
        for act, row in ACTS.items():
            if act == "UPDATE" or not watch.moved:
                things = watch.follow.replace("n.", f"{row}.") or f"{row}.{column}"
                yield act, _moves(watch.moved), list(relisted("sqlite", kind, things))
    elif column == "id":
        for act, row in ACTS.items():
            yield act, _moves(kind.place, act), list(relisted("sqlite", kind, f"{row}.id"))
        yield "UPDATE", _moves(kind.place).replace("IS NOT", "IS"), [_lifted_one(kind, "NEW.id")]
    else:
        for act, row in ACTS.items():
            yield act, _moves(watch.moved, act), [_lifted_one(kind, f"{row}.{column}")]
        yield "UPDATE", _moves(column), [_lifted_one(kind, f"OLD.{column}")]


def _moves(column: str, act: str = "UPDATE") -> str:
    return f" WHEN NEW.{column} IS NOT OLD.{column}" if column and act == "UPDATE" else ""


def _lifted_one(kind: Kind, thing: str) -> str:
    return lifted("sqlite", kind, thing, is_one=True)


def _on_postgresql() -> Iterator[tuple[str, str, str, str]]:
    for table, watches in _by_table():
        for act in ACTS:
            yield _postgresql_trigger(table, act, watches)
    text = (
        f"CREATE CONSTRAINT TRIGGER {NUMBERING} AFTER INSERT ON feed_note DEFERRABLE INITIALLY DEFERRED "
        f"FOR EACH ROW EXECUTE FUNCTION {NUMBERING}()"
    )
    yield NUMBERING, "feed_note", text, _numbering()


def _postgresql_trigger(table: str, act: str, watches: list[Watch]) -> tuple[str, str, str, str]:
    """As PostgreSQL writes it down itself."""
    name = f"feed_{table}_{act.lower()}"
    rows = {"INSERT": "NEW TABLE AS n", "DELETE": "OLD TABLE AS o"}.get(act, "OLD TABLE AS o NEW TABLE AS n")
    named = " UNION ".join(
        f"SELECT '{watch.kind}' AS kind, w.thing, w.moves FROM ({_named_on_postgresql(watch, act)}) w"  # noqa: S608
        for watch in watches
        if act == "UPDATE" or not (watch.moved and watch.follow)
    )
    body = (
        f"BEGIN INSERT INTO feed_note (kind, thing, moves) SELECT kind, thing, moves FROM ({named}) a "  # noqa: S608
        "WHERE thing IS NOT NULL; RETURN NULL; END"
    )
    text = (
        f"CREATE TRIGGER {name} AFTER {act} ON {table} REFERENCING {rows} FOR EACH STATEMENT "
        f"EXECUTE FUNCTION {name}()"
    )
    return name, table, text, body


def _named_on_postgresql(watch: Watch, act: str) -> str:
    """Which things are noted, and whether they may have come, gone or moved."""
    row, kind = ACTS[act].lower()[0], KINDS[watch.kind]
    both = f"n JOIN o ON o.id = n.id AND o.{watch.moved} IS DISTINCT FROM n.{watch.moved}"
    rows = both if watch.moved and act == "UPDATE" else row
    if watch.follow:
        follow = watch.follow.replace("n.", f"{row}.")
        return f"SELECT x.id AS thing, TRUE AS moves FROM {rows} CROSS JOIN LATERAL ({follow}) x"  # noqa: S608
    if watch.column == "id" and act == "UPDATE" and kind.place:
        moves = f"o.{kind.place} IS DISTINCT FROM n.{kind.place}"
        return f"SELECT n.id AS thing, {moves} AS moves FROM n JOIN o ON o.id = n.id"  # noqa: S608
    moves = "TRUE" if watch.column == "id" or not kind.place else "FALSE"
    things = f"{row}.{watch.column}"
    if act == "UPDATE" and watch.column != "id":
        things = f"unnest(ARRAY[n.{watch.column}, o.{watch.column}])"
        rows = rows if watch.moved else "n JOIN o ON o.id = n.id"
    return f"SELECT {things} AS thing, {moves} AS moves FROM {rows}"  # noqa: S608


def _numbering() -> str:
    """Thing by thing, so that each is found by its key however many rows there are.

    The first note of a transaction to be asked about numbers all; whose note is gone has been numbered.
    """
    lists = " ".join(f"WHEN '{kind.name}' THEN {_listed_on_postgresql(kind)}" for kind in KINDS.values())
    return (
        "DECLARE noted record; BEGIN "  # noqa: S608
        "IF NOT EXISTS (SELECT FROM feed_note WHERE id = NEW.id) THEN RETURN NULL; END IF; "
        f"PERFORM {LOCK}; "
        "FOR noted IN SELECT kind, thing, bool_or(moves) AS moves FROM feed_note GROUP BY kind, thing LOOP "
        f"CASE noted.kind {lists} END CASE; END LOOP; "
        "DELETE FROM feed_note; RETURN NULL; END"
    )


def _listed_on_postgresql(kind: Kind) -> str:
    anew = "; ".join(relisted("postgresql", kind, "noted.thing"))
    return f"IF noted.moves THEN {anew}; ELSE {lifted('postgresql', kind, 'noted.thing')}; END IF;"
