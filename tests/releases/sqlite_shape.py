"""How a SQLite database is made, from the statements that it keeps of itself.

A table that was altered is written in another order and with other marks around names than one that was made
at once, so each statement is taken apart into columns and constraints, without its marks.
"""

import re
from collections.abc import Iterator

from django.db.backends.base.base import BaseDatabaseWrapper

ASKED = (
    "SELECT type, tbl_name, sql FROM sqlite_master WHERE sql IS NOT NULL AND tbl_name NOT LIKE 'sqlite_%%'"
)


def told(connection: BaseDatabaseWrapper) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {"table": set(), "index": set(), "trigger": set()}
    with connection.cursor() as cursor:
        cursor.execute(ASKED)
        for kind, table, statement in cursor.fetchall():
            if kind == "table":
                found[kind] |= {f"{table}: {part}" for part in parts(statement)}
            else:
                found[kind].add(f"{table}: {plain(statement)}")
    return found


def parts(statement: str) -> Iterator[str]:
    """What stands between the commas of the outermost brackets."""
    inside = statement[statement.index("(") + 1 : statement.rindex(")")]
    depth, begun = 0, 0
    for at, sign in enumerate(inside):
        depth += (sign == "(") - (sign == ")")
        if sign == "," and depth == 0:
            yield plain(inside[begun:at])
            begun = at + 1
    yield plain(inside[begun:])


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace('"', "").replace("`", "")).strip()
