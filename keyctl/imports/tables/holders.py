"""A table of holders: people to whom keys of the site are handed, by the services of their pages."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.translation import gettext, gettext_lazy

from keyctl.directory.facts import faults_of, kind_of
from keyctl.imports.kinds import Fault, Field, Given, Kind, Planned, planned
from keyctl.imports.records import Deed, Records, Values, Written
from keyctl.imports.tables.rows import SITE, TableRow, rows_of, stepping
from keyctl.keys.models import Holder
from keyctl.keys.services.holders import change_holder, register_holder
from keyctl.lib.errors import Refused
from keyctl.places.roles import Role

WRITTEN = ("name", "email", "department", "kind")
FIELDS = (
    SITE,
    Field(
        "name",
        gettext_lazy("Name"),
        (
            "holder",
            "key holder",
            "person",
            "full name",
            "display name",
        ),
        needed=True,
    ),
    Field("email", gettext_lazy("E-mail"), ("mail", "email", "e-mail address", "email address")),
    Field("department", gettext_lazy("Department"), ("faculty", "unit", "organisation", "organization")),
    Field("kind", gettext_lazy("Kind: staff, student, contractor"), ("kind", "type", "category", "status")),
)
SEVERAL = gettext_lazy("Several holders of this site have this name. Give the row the e-mail of one of them.")
GONE = gettext_lazy(
    "This holder receives no keys any more. Let them receive keys again on their page first, or leave it."
)
PERSON = gettext_lazy(
    "This holder is known from the directory of people, which says who they are. Change it there."
)


class HolderRecords(Records):
    def create(self, deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        written = Written()
        for pk, values in rows.items():
            facts = {name: values[name] for name in WRITTEN if name in values}
            try:
                with transaction.atomic():
                    holder = register_holder(actor=deed.actor, site=deed.imported.site, **facts)
                written.other[pk] = holder.pk
            except Refused as refused:
                written.refused[pk] = " ".join(refused.sentences)
        return written

    def change(self, deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        written, holders = Written(), Holder.objects.select_related("site").in_bulk(list(rows))
        for pk, values in rows.items():
            now = {name: getattr(holders[pk], name) for name in WRITTEN}
            try:
                with transaction.atomic():
                    change_holder(actor=deed.actor, holder=holders[pk], **now | values)
            except Refused as refused:
                written.refused[pk] = " ".join(refused.sentences)
        return written


HOLDERS = HolderRecords(
    "holders",
    gettext_lazy("Holders"),
    Holder,
    {"name": "Name", "email": "E-mail", "department": "Department", "kind": "Kind"},
)


@dataclass
class HolderTable:
    given: Given
    seen: dict[tuple[str, str], int] = field(default_factory=dict)

    def plan(self) -> Iterator[Planned | Fault]:
        for chunk in stepping(self.given, rows_of(self.given)):
            said = [(row, self._read(row)) for row in chunk]
            mails, names = self._stored(said)
            states = HOLDERS.states(
                {holder.pk for found in (*mails.values(), *names.values()) for holder in found}
            )
            for row, facts in said:
                entry = self._planned(row, facts, mails, names, states) if row.is_sound else None
                yield from row.faults
                if entry and row.is_sound:
                    yield entry

    def _read(self, row: TableRow) -> dict[str, Any]:
        facts: dict[str, Any] = {"name": row.needed("name", 120, "name")}
        for name, longest in (("email", 254), ("department", 120)):
            if text := row.text(name, longest):
                facts[name] = text
        if word := row.text("kind", 40):
            facts["kind"] = str(kind_of(word))
        for sentence in faults_of({"display_name": facts["name"], **facts}):
            row.fault("email" if "e-mail" in sentence else "name", sentence)
        column = "email" if facts.get("email") else "name"
        key = facts[column].casefold()
        first = self.seen.setdefault((column, key), row.number) if key else row.number
        if first != row.number:
            row.fault(
                column, gettext("Row {first} is this holder too. Leave one of them out.").format(first=first)
            )
        return facts

    def _stored(
        self, said: Sequence[tuple[TableRow, Mapping[str, Any]]]
    ) -> tuple[dict[str, list[Holder]], dict[str, list[Holder]]]:
        """The site's holders by e-mail and by name, as far as rows name them."""
        mails, names = defaultdict[str, list[Holder]](list), defaultdict[str, list[Holder]](list)
        wanted_mails = {facts.get("email", "").casefold() for _, facts in said} - {""}
        wanted_names = {facts["name"].casefold() for _, facts in said}
        for holder in Holder.objects.filter(site=self.given.imported.site).order_by("pk").iterator():
            if holder.email.casefold() in wanted_mails:
                mails[holder.email.casefold()].append(holder)
            if holder.name.casefold() in wanted_names:
                names[holder.name.casefold()].append(holder)
        return mails, names

    def _planned(
        self,
        row: TableRow,
        facts: dict[str, Any],
        mails: Mapping[str, Sequence[Holder]],
        names: Mapping[str, Sequence[Holder]],
        states: Mapping[UUID, Values],
    ) -> Planned | None:
        mail = facts.get("email", "").casefold()
        # Somebody of the same name whose address is another is somebody else.
        alike = [each for each in names.get(facts["name"].casefold(), ()) if not mail or not each.email]
        found = list(mails.get(mail, ())) if mail and mail in mails else alike
        if len(found) > 1:
            row.fault("name", SEVERAL)
            return None
        if not found:
            said = {"site_id": str(self.given.imported.site_id), **facts}
            return planned(HOLDERS, facts["name"], said, None, pk=uuid4(), row=row.number)
        return self._changed(row, found[0], facts, states[found[0].pk])

    def _changed(self, row: TableRow, holder: Holder, facts: dict[str, Any], now: Values) -> Planned | None:
        if facts.get("email", "").casefold() == holder.email.casefold():
            facts.pop("email", None)
        changes = any(now[name] != value for name, value in facts.items())
        if changes and not holder.is_active:
            row.fault("name", GONE)
        if changes and holder.person_id:
            row.fault("name", PERSON)
        return planned(HOLDERS, holder.name, facts, now, pk=holder.pk, row=row.number)


def plan_holders(given: Given) -> Iterator[Planned | Fault]:
    return HolderTable(given).plan()


HOLDER_TABLE = Kind(
    name="holders",
    label=gettext_lazy("Holders"),
    hint=gettext_lazy(
        "A row a person to whom keys of this site are handed: found again by the e-mail, else by the name. "
        "An empty cell leaves what is on record, and nobody is made to leave. People of the whole house come "
        "in by a list of people, under Keys."
    ),
    takers=(Role.ADMINISTRATOR,),
    things=(HOLDERS,),
    main="holders",
    plan=plan_holders,
    fields=FIELDS,
)
