"""How a PostgreSQL database is made, as the server itself says it.

What came from a dump has types and brackets at other places (`(ARRAY['a'])::text[]`, `ARRAY['a'::text]`), so
conditions are compared without either.
"""

import re

from django.db.backends.base.base import BaseDatabaseWrapper

ASKED = {
    "column": """SELECT table_name, column_name, data_type, character_maximum_length, is_nullable
        FROM information_schema.columns WHERE table_schema = 'public'""",
    "constraint": """SELECT c.conrelid::regclass::text, c.conname, pg_get_constraintdef(c.oid)
        FROM pg_constraint c JOIN pg_namespace n ON n.oid = c.connamespace
        WHERE n.nspname = 'public' AND c.conrelid <> 0""",
    "index": "SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'",
    "trigger": """SELECT t.tgrelid::regclass::text, t.tgname, pg_get_triggerdef(t.oid, true),
        t.tgenabled, p.prosrc
        FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT t.tgisinternal""",
}


def told(connection: BaseDatabaseWrapper) -> dict[str, set[str]]:
    found = {}
    with connection.cursor() as cursor:
        for what, question in ASKED.items():
            cursor.execute(question)
            found[what] = {plain(": ".join(str(fact) for fact in row)) for row in cursor.fetchall()}
    return found


def plain(text: str) -> str:
    without_types = re.sub(r"::(character varying|timestamp with time zone|\w+)(\(\d+\))?(\[\])?", "", text)
    return re.sub(r"[()\[\]\s]+", "", without_types)
