"""After bulk work the database knows how large its tables are: asked of the database's own figures."""

from django.db import connection

from keyctl.lib.planner import look_anew
from keyctl.places.models import Door
from tests import factories

DOORS = 300
MUCH = 5000


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


def rows_known_of_one_value(table: str, column: str) -> int:
    """Second in `sqlite_stat1` stand the rows for one value of an index; `pg_stats` counts the values."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            ask = "SELECT n_distinct FROM pg_stats WHERE tablename = %s AND attname = %s"
            cursor.execute(ask, [table, column])
            return round(rows_known_of(table) / int(cursor.fetchone()[0]))
        cursor.execute(
            "SELECT stat FROM sqlite_stat1 WHERE tbl = %s AND idx LIKE %s", [table, f"{table}_{column}_%"]
        )
        return int(str(cursor.fetchone()[0]).split()[1])


def test_it_knows_of_a_place_that_holds_much(db: None) -> None:
    floor = factories.make_floor()
    Door.objects.bulk_create(Door(floor=floor, number=str(nth)) for nth in range(MUCH))
    look_anew()
    assert rows_known_of_one_value(Door._meta.db_table, "floor_id") == MUCH
