"""A table of keys: a row is a cut key by its serial or its mark, which key it is, and where it hangs.

Keys come in where they hang. Who holds one took it at the desk with a signature, and a lost one is reported
on its page, where what it opens is looked at: neither comes in by a list.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.imports.kinds import Fault, Field, Given, Kind, Planned, planned
from keyctl.imports.records import Deed, Records, Values, Written
from keyctl.imports.tables.corewriting import by_symbol, loaded_systems
from keyctl.imports.tables.rows import SITE, TableRow, rows_of, stepping
from keyctl.keys.access import CUTTERS
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.keys.services.stamping import stamps_for
from keyctl.lib.errors import Refused
from keyctl.lib.tags import new_tag
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

SHORTEST_SERIAL, LONGEST_SERIAL = 6, 16
State = KeyCopy.State
STATES = {
    **{word.casefold(): value for value, label in State.choices for word in (value, label)},
    **dict.fromkeys(("in cabinet", "cabinet", "in stock", "stock"), State.IN_CABINET.value),
}
FIELDS = (
    SITE,
    Field("system", gettext_lazy("Key system"), ("system code", "system"), needed=True),
    Field("symbol", gettext_lazy("Key symbol"), ("symbol", "key", "key set"), needed=True),
    Field("serial", gettext_lazy("Serial"), ("serial number", "serial no", "copy", "copy no")),
    Field("stamp", gettext_lazy("Mark stamped on it"), ("stamp", "mark", "stamped", "marking")),
    Field("cabinet", gettext_lazy("Cabinet"), ("hangs in", "key cabinet")),
    Field("status", gettext_lazy("Status: in a cabinet"), ("state",)),
)
ELSEWHERE = gettext_lazy(
    "Keys come in where they hang. One that somebody holds is brought in here and handed out at "
    "the desk, with a signature; one that is lost is reported on its page, where what it opens "
    "is looked at."
)
NO_NAME = gettext_lazy(
    "The row names neither serial nor mark, so the next file would not find this key. Give it one."
)
MOVED = gettext_lazy(
    "By our records this key is elsewhere, or is another key. Put it right at the desk, or correct the row."
)
CUTS = gettext_lazy(
    "A mark of digits alone, as many as the key has cuts, may be its cuts. They are stamped on no key."
)


class CopyRecords(Records):
    def create(self, deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        """By the rules of cutting: the role, no retired key, what may be stamped at this site."""
        if not rows:
            return Written()
        site, written = deed.imported.site, Written()
        require_role(deed.actor, site, *CUTTERS)
        symbols = {
            str(symbol.pk): symbol
            for symbol in KeySymbol.objects.filter(pk__in={values["symbol_id"] for values in rows.values()})
        }
        for pk, values in rows.items():
            symbol = symbols[values["symbol_id"]]
            try:
                refuse_retired(symbol)
                stamps_for(site, symbol, values["stamp"], 1)
            except Refused as refused:
                written.refused[pk] = " ".join(refused.sentences)
        super().create(deed, {pk: values for pk, values in rows.items() if pk not in written.refused})
        return written


COPIES = CopyRecords(
    "keys",
    gettext_lazy("Keys"),
    KeyCopy,
    {"serial": "Serial", "stamp": "Mark", "state": "State", "cabinet_id": "Cabinet"},
)


@dataclass
class CopyRow:
    row: TableRow
    system: KeySystem | None
    name: str
    serial: str
    stamp: str
    cabinet: Cabinet | None
    state: str


@dataclass
class CopyTable:
    given: Given
    systems: dict[str, KeySystem]
    cabinets: dict[str, Cabinet]
    seen: dict[tuple[str, str], int] = field(default_factory=dict)

    def plan(self) -> Iterator[Planned | Fault]:
        for chunk in stepping(self.given, rows_of(self.given)):
            found = [self._read(row) for row in chunk]
            symbols = by_symbol((each.system.pk, each.name) for each in found if each.system and each.name)
            stored = self._stored(found)
            for each in found:
                entry = self._planned(each, symbols, stored) if each.row.is_sound else None
                yield from each.row.faults
                if entry and each.row.is_sound:
                    yield entry

    def _read(self, row: TableRow) -> CopyRow:
        system = self.systems.get(row.needed("system", 20, "key system").casefold())
        if row.says("system") and system is None:
            row.fault("system", _("No key system of this site has this code. Correct it."))
        cabinet = self.cabinets.get(row.text("cabinet", 60).casefold())
        if row.says("cabinet") and cabinet is None:
            row.fault(
                "cabinet", _("This site has no cabinet of this name. Add it under Keys first, or correct it.")
            )
        serial = row.tag("serial", SHORTEST_SERIAL, LONGEST_SERIAL)
        stamp, name = row.text("stamp", 20), row.needed("symbol", 20, "key symbol")
        if not row.says("serial") and not row.says("stamp"):
            row.fault("serial", NO_NAME)
        for column, text in (("serial", serial), ("stamp", stamp)):
            first = self.seen.setdefault((column, text), row.number) if text else row.number
            if first != row.number:
                row.fault(column, _("Row {first} is this key too. Correct one of them.").format(first=first))
        return CopyRow(row, system, name, serial, stamp, cabinet, row.choice("status", STATES, "status"))

    def _stored(self, rows: Sequence[CopyRow]) -> dict[tuple[str, str], KeyCopy]:
        """By serial and by mark, the copies on record; a serial is one key's at all sites."""
        serials = KeyCopy.objects.filter(serial__in=[each.serial for each in rows if each.serial])
        stamps = KeyCopy.objects.filter(
            site=self.given.imported.site, stamp__in=[each.stamp for each in rows if each.stamp]
        )
        return {("serial", copy.serial): copy for copy in serials} | {
            ("stamp", copy.stamp): copy for copy in stamps
        }

    def _planned(
        self,
        each: CopyRow,
        symbols: Mapping[tuple[UUID, str], KeySymbol],
        stored: Mapping[tuple[str, str], KeyCopy],
    ) -> Planned | None:
        assert each.system  # noqa: S101 (a sound row has one)
        symbol = symbols.get((each.system.pk, each.name))
        if symbol is None:
            each.row.fault("symbol", _("The key system has no key of this symbol. Look it up in its tree."))
            return None
        copy = stored.get(("serial", each.serial)) or stored.get(("stamp", each.stamp))
        if copy is not None:
            return self._same(each, symbol, copy)
        self._refuse(each, symbol)
        if each.state not in {"", State.IN_CABINET}:
            each.row.fault("status", ELSEWHERE)
        elif each.cabinet is None:
            each.row.needed("cabinet", 60, "cabinet")
        said: dict[str, Any] = {
            "symbol_id": str(symbol.pk),
            "site_id": str(self.given.imported.site_id),
            "serial": each.serial or new_tag(),
            "stamp": each.stamp,
            "state": str(State.IN_CABINET),
            "cabinet_id": str(each.cabinet.pk) if each.cabinet else None,
        }
        return planned(COPIES, _label(each, symbol), said, None, pk=uuid4(), row=each.row.number)

    def _refuse(self, each: CopyRow, symbol: KeySymbol) -> None:
        assert each.system  # noqa: S101 (tells the type checker)
        if each.stamp.isdecimal() and len(each.stamp) == engine.load_format(each.system.format_id).positions:
            each.row.fault("stamp", CUTS)
            return
        try:
            refuse_retired(symbol)
            stamps_for(self.given.imported.site, symbol, each.stamp, 1)
        except Refused as refused:
            each.row.fault("stamp" if each.stamp else "symbol", " ".join(refused.sentences))

    def _same(self, each: CopyRow, symbol: KeySymbol, copy: KeyCopy) -> Planned | None:
        """A key on record stays as it is; the row must not say otherwise."""
        here = copy.symbol_id == symbol.pk and copy.site_id == self.given.imported.site_id
        hangs = each.cabinet is None or each.cabinet.pk == copy.cabinet_id
        if not (here and hangs and each.state in {"", copy.state}):
            each.row.fault("cabinet", MOVED)
            return None
        return planned(COPIES, _label(each, symbol), {}, {}, pk=copy.pk, row=each.row.number)


def refuse_retired(symbol: KeySymbol) -> None:
    if symbol.is_retired:
        raise Refused(_("This key is retired after a loss and is not cut again. Name the key in its place."))


def _label(each: CopyRow, symbol: KeySymbol) -> str:
    return f"Copy of {symbol}, {each.stamp or each.serial}"


def plan_keys(given: Given) -> Iterator[Planned | Fault]:
    site = given.imported.site
    cabinets = {cabinet.name.casefold(): cabinet for cabinet in Cabinet.objects.filter(site=site)}
    return CopyTable(given, loaded_systems(site), cabinets).plan()


KEY_TABLE = Kind(
    name="keys",
    label=gettext_lazy("Keys"),
    hint=gettext_lazy(
        "A row a cut key: its key system and symbol, the serial or mark on it, and the cabinet it hangs in. "
        "Keys that people hold are handed out at the desk afterwards, with a signature; cuts stand in no "
        "such list."
    ),
    takers=(Role.LOCKSMITH,),
    things=(COPIES,),
    main="keys",
    plan=plan_keys,
    fields=FIELDS,
)
