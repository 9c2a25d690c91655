"""Triggers that note what changed in words, whoever changed it and by whatever statement.

They name columns: a swap, an issue or a sign-in changes none of them and costs nothing. They stand and fall
with those of the feed, which goes away while a migration makes tables anew (``feed.companions``).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.feed.companions import Companion, Trigger
from keyctl.search.models import Entry, Keeper, Posting, Stale, Trace, Word
from keyctl.search.sources import all_things

ALL_ACTS = ("INSERT", "UPDATE", "DELETE")


@dataclass(frozen=True)
class Watch:
    """``marks``: the kinds that a row speaks of, each with the SQL behind ``SELECT kind, `` that names the
    things (``n`` is the row); ``acts`` are those that matter, an update only of ``columns``."""

    table: str
    columns: tuple[str, ...]
    marks: tuple[tuple[str, str], ...]
    acts: tuple[str, ...] = ALL_ACTS

    def statements(self, act: str) -> str:
        row = "OLD" if act == "DELETE" else "NEW"
        inserts = (
            f"INSERT INTO search_stale (kind, thing) SELECT '{kind}', {things.replace('n.', f'{row}.')}"
            for kind, things in self.marks
        )
        return "; ".join(inserts)


_JOINED = ("INSERT", "DELETE")
_CHANGED = ("UPDATE",)
_FLOORS = "SELECT id FROM places_floor WHERE building_id = n.id"
_OF_BUILDING = (
    ("door", f"id FROM places_door WHERE floor_id IN ({_FLOORS})"),
    ("space", f"id FROM places_space WHERE floor_id IN ({_FLOORS})"),
    ("request", "id FROM approvals_keyrequest WHERE building_id = n.id"),
)
_OF_FLOOR = (
    ("door", "id FROM places_door WHERE floor_id = n.id"),
    ("space", "id FROM places_space WHERE floor_id = n.id"),
)
_KEYS_OF = "id FROM systems_keysymbol WHERE system_id = n.{}"
_COPIES_OF_SYSTEM = (
    "c.id FROM keys_keycopy c JOIN systems_keysymbol s ON s.id = c.symbol_id WHERE s.system_id = n.id"
)
_DOOR = ("number", "name", "tag", "serial_number", "asset_tag", "bar_code", "floor_id")

WATCHES: Final = (
    Watch("places_building", ("code", "name", "site_id"), (("building", "n.id"), *_OF_BUILDING)),
    Watch("places_floor", ("building_id",), _OF_FLOOR, _CHANGED),
    Watch("places_space", ("number", "name", "floor_id"), (("space", "n.id"),)),
    Watch("places_door", _DOOR, (("door", "n.id"),)),
    Watch("places_door_spaces", (), (("door", "n.door_id"),), _JOINED),
    Watch(
        "places_identifier",
        ("value", "door_id", "space_id", "building_id"),
        tuple((kind, f"n.{kind}_id WHERE n.{kind}_id IS NOT NULL") for kind in ("door", "space", "building")),
    ),
    Watch("cores_core", ("tag", "site_id"), (("core", "n.id"),)),
    Watch(
        "systems_keysystem",
        ("code", "name"),
        (("key-system", "n.id"), ("key", _KEYS_OF.format("id")), ("key-copy", _COPIES_OF_SYSTEM)),
    ),
    Watch(
        "systems_keysystem_sites",
        (),
        (("key-system", "n.keysystem_id"), ("key", _KEYS_OF.format("keysystem_id"))),
        _JOINED,
    ),
    Watch("systems_keysymbol", ("symbol", "system_id"), (("key", "n.id"),)),
    Watch("keys_keycopy", ("serial", "stamp", "symbol_id", "site_id"), (("key-copy", "n.id"),)),
    Watch("keys_cabinet", ("name", "tag", "site_id"), (("cabinet", "n.id"),)),
    Watch(
        "keys_holder",
        ("name", "department", "site_id"),
        (("holder", "n.id"), ("request", "id FROM approvals_keyrequest WHERE holder_id = n.id")),
    ),
    Watch("keys_person", ("display_name", "department"), (("person", "n.id"),)),
    Watch("accounts_user", ("display_name", "username"), (("member", "n.id"),)),
    Watch("places_membership", ("user_id", "site_id"), (("member", "n.user_id"),)),
    Watch("orders_workorder", ("number", "title", "site_id"), (("work-order", "n.id"),)),
    Watch("approvals_keyrequest", ("holder_id", "building_id"), (("request", "n.id"),)),
    Watch("approvals_keyrequest_doors", (), (("request", "n.keyrequest_id"),), _JOINED),
)
# What a space is called stands with its doors, which may be there before it is renamed.
_SPACES = Watch(
    "places_space",
    ("number", "name"),
    (("door", "door_id FROM places_door_spaces WHERE space_id = n.id"),),
    _CHANGED,
)
# A door's number stands with the requests that ask for it; a key's symbol with its copies.
_NUMBERS = Watch(
    "places_door",
    ("number",),
    (("request", "keyrequest_id FROM approvals_keyrequest_doors WHERE door_id = n.id"),),
    _CHANGED,
)
_SYMBOLS = Watch(
    "systems_keysymbol",
    ("symbol",),
    (("key-copy", "id FROM keys_keycopy WHERE symbol_id = n.id"),),
    _CHANGED,
)


def triggers(vendor: str) -> Iterator[Trigger]:
    for nth, watch in enumerate((*WATCHES, _SPACES, _NUMBERS, _SYMBOLS)):
        for act in watch.acts:
            yield _trigger(vendor, f"feed_search_{nth}_{act.lower()}", watch, act)


def _trigger(vendor: str, name: str, watch: Watch, act: str) -> Trigger:
    """On PostgreSQL as it writes it down itself."""
    of = f" OF {', '.join(watch.columns)}" if act == "UPDATE" else ""
    head = f"CREATE TRIGGER {name} AFTER {act}{of} ON {watch.table} FOR EACH ROW"
    statements = watch.statements(act)
    if vendor == "sqlite":
        return name, watch.table, f"{head} BEGIN {statements}; END", ""
    return name, watch.table, f"{head} EXECUTE FUNCTION {name}()", f"BEGIN {statements}; RETURN NULL; END"


def read_everything_again(connection: BaseDatabaseWrapper, is_new: bool = False) -> None:
    """All that is there or was entered is looked at again; ``is_new``: nothing that was entered holds."""
    using = connection.alias
    with transaction.atomic(using=using):
        Keeper.objects.using(using).get_or_create(pk=1)
        if is_new:
            for model in (Entry, Word, Posting, Trace):
                model._default_manager.using(using).all().delete()
        Stale.objects.using(using).all().delete()
        with connection.cursor() as cursor:
            entered = "SELECT DISTINCT kind, thing FROM search_entry"
            cursor.execute(f"INSERT INTO search_stale (kind, thing) {entered}")
            for kind, things in all_things():
                table = things.model._meta.db_table
                cursor.execute(f"INSERT INTO search_stale (kind, thing) SELECT '{kind}', id FROM {table}")  # noqa: S608


COMPANION: Final = Companion(
    tables=frozenset(model._meta.db_table for model in (Entry, Word, Posting, Trace, Stale, Keeper)),
    triggers=triggers,
    begin=read_everything_again,
)


def rebuild(using: str = "default") -> None:
    read_everything_again(connections[using], is_new=True)
