"""After bulk work the database knows how large its tables are: asked of the database's own figures."""

from django.db import connection

from keyctl.lib.planner import look_anew
from keyctl.places.models import Door
from tests import factories

DOORS = 300


def rows_known_of(table: str) -> int:
    """By the documentation of each: `sqlite_stat1` begins with the rows, `pg_class.reltuples` are those."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT reltuples FROM pg_class WHERE relname = %s", [table])
        else:
            cursor.execute("SELECT stat FROM sqlite_stat1 WHERE tbl = %s LIMIT 1", [table])
        found = cursor.fetchone()
    return int(str(found[0]).split()[0].removesuffix(".0")) if found else 0


def test_it_knows_how_many_rows_there_are(db: None) -> None:
    floor = factories.make_floor()
    Door.objects.bulk_create(Door(floor=floor, number=str(nth)) for nth in range(DOORS))
    look_anew()
    assert rows_known_of(Door._meta.db_table) == DOORS


def test_it_looks_again_where_there_is_ten_times_as_much(db: None) -> None:
    floor = factories.make_floor()
    for times in (1, 20):
        Door.objects.bulk_create(Door(floor=floor, number=f"{times}-{nth}") for nth in range(30 * times))
        look_anew()
    assert rows_known_of(Door._meta.db_table) == 630
