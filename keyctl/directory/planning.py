"""The dry run of a list of people: what each row would do, what stands against it, and who is missing."""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.directory.columns import FIELDS, IDENTIFIERS
from keyctl.directory.facts import Facts, changes_to, faults_of, kind_of, told
from keyctl.directory.models import DirectoryEntry
from keyctl.keys.models import Person
from keyctl.lib.sheets import Cell, Sheet

NEW, CHANGED, SAME, GONE, ERROR = "new", "changed", "same", "gone", "error"
BAD_CELLS = {"formula": "a formula", "error": gettext_lazy("an error of the spreadsheet"), "date": "a date"}
WORDS = {"external_id": "identifier", "user_name": gettext_lazy("user name"), "email": "e-mail"}


@dataclass(frozen=True)
class PlannedRow:
    """One row and what it would do. ``text`` says why, or what changes."""

    number: int
    name: str
    act: str
    text: str = ""
    facts: Facts = field(default=Facts(), repr=False)
    person: Person | None = None

    def as_finding(self) -> dict[str, Any]:
        return {"row": self.number, "name": self.name, "act": self.act, "text": self.text}


@dataclass(frozen=True)
class Plan:
    rows: Sequence[PlannedRow]
    missing: Sequence[Person]
    # Active people who came by lists: of these, the missing are a share.
    listed: int

    @property
    def counts(self) -> dict[str, int]:
        found = dict.fromkeys((NEW, CHANGED, SAME, GONE, ERROR), 0)
        for row in self.rows:
            found[row.act] += 1
        return found | {"missing": len(self.missing), "listed": self.listed, "rows": len(self.rows)}

    @property
    def digest(self) -> str:
        rows = [[row.number, row.act, str(row.person and row.person.pk), row.text] for row in self.rows]
        missing = sorted(str(person.pk) for person in self.missing)
        return hashlib.sha256(json.dumps([rows, missing]).encode()).hexdigest()


class Known:
    """Everybody, by what tells them apart."""

    def __init__(self) -> None:
        self.entries = {entry.person_id: entry for entry in DirectoryEntry.objects.all()}
        self.by: dict[str, dict[str, list[Person]]] = {name: defaultdict(list) for name in IDENTIFIERS}
        self.people = list(Person.objects.all())
        for person in self.people:
            for name in IDENTIFIERS:
                if key := key_of(name, getattr(person, name)):
                    self.by[name][key].append(person)

    def entry(self, person: Person) -> DirectoryEntry | None:
        return self.entries.get(person.pk)

    def came_by_list(self) -> Iterator[Person]:
        for person in self.people:
            entry = self.entries.get(person.pk)
            if person.is_active and entry and entry.source == DirectoryEntry.Source.TABLE:
                yield person


def key_of(name: str, text: str) -> str:
    """User names and e-mails are the same in capitals; identifiers are not."""
    return text if name == "external_id" else text.casefold()


def plan_list(sheet: Sheet, columns: Mapping[str, int], has_header: bool, is_full: bool) -> Plan:
    known, seen = Known(), Seen()
    body = sheet.rows[1:] if has_header else sheet.rows
    rows = []
    for number, cells in body:
        facts, faults = _read(cells, sheet, columns)
        rows.append(_planned(number, facts, faults, known, seen))
    listed = list(known.came_by_list())
    # A row that cannot be read may name anybody: then nobody is called missing.
    is_sure = is_full and not any(row.act == ERROR for row in rows)
    missing = [person for person in listed if person.pk not in seen.people] if is_sure else []
    return Plan(rows, missing, len(listed))


@dataclass
class Seen:
    """What earlier rows of the file named, with their numbers."""

    keys: dict[tuple[str, str], int] = field(default_factory=dict)
    people: dict[UUID, int] = field(default_factory=dict)


def _planned(number: int, facts: Facts, faults: list[str], known: Known, seen: Seen) -> PlannedRow:
    name = (facts.display_name or facts.user_name or facts.email or "")[:120]
    faults = [*faults, *faults_of(facts.said)]
    if not facts.display_name:
        faults.append(_("The name is missing."))
    person, doubt = _match(facts, known)
    faults += [doubt] if doubt else []
    faults += _twice(number, facts, person, seen)
    if faults:
        return PlannedRow(number, name, ERROR, " ".join(faults))
    if person is None:
        return PlannedRow(number, name, NEW, "", facts)
    if not person.is_active:
        return PlannedRow(
            number, name, GONE, _("Has left by our records. Take them back on their page."), facts, person
        )
    changes = changes_to(person, known.entry(person), facts)
    act = CHANGED if changes else SAME
    return PlannedRow(number, name, act, told(changes), facts, person)


def _read(cells: tuple[Cell, ...], sheet: Sheet, columns: Mapping[str, int]) -> tuple[Facts, list[str]]:
    """Empty cells say that there is nothing; columns that were not chosen say nothing."""
    said: dict[str, Any] = {}
    faults = []
    for field_name, column in columns.items():
        cell = sheet.cell(cells, column)
        if cell.kind in BAD_CELLS:
            faults.append(
                _("{value}: the cell holds {bad_cells}.").format(
                    value=str(FIELDS[field_name]).split(":")[0], bad_cells=BAD_CELLS[cell.kind]
                )
            )
            continue
        said[field_name] = " ".join(cell.text.split())
    if "kind" in said:
        said["kind"] = str(kind_of(said["kind"]))
    if not said.get("display_name"):
        said["display_name"] = f"{said.get('given_name', '')} {said.get('family_name', '')}".strip()
    if "external_id" in said and not said["external_id"]:
        del said["external_id"]
    if "user_name" in said and not said["user_name"]:
        del said["user_name"]
    if not any(said.get(name) for name in IDENTIFIERS):
        faults.append(_("Nothing tells this person apart: no identifier, user name or e-mail."))
    return Facts(**said), faults


def _match(facts: Facts, known: Known) -> tuple[Person | None, str]:
    """By identifier, else by user name, else by e-mail; and why it cannot be said who it is."""
    hits: dict[str, Person] = {}
    for name in IDENTIFIERS:
        found = known.by[name].get(key_of(name, getattr(facts, name) or ""), [])
        if len(found) > 1 and not hits:
            return None, _("Several people have this {words}.").format(words=WORDS[name])
        if len(found) == 1:
            hits[name] = found[0]
    strong = {name: person for name, person in hits.items() if name != "email"}
    if len({person.pk for person in strong.values()}) > 1:
        return None, _("The identifier is one person's and the user name another's.")
    name, person = next(iter(hits.items()), ("", None))
    if person and name != "external_id" and facts.external_id and person.external_id:
        return None, _("The {words} belongs to somebody with another identifier.").format(words=WORDS[name])
    if person and name == "email" and facts.user_name and person.user_name:
        return None, _("The e-mail belongs to somebody with another user name.")
    return person, ""


def _twice(number: int, facts: Facts, person: Person | None, seen: Seen) -> list[str]:
    faults = []
    for name in IDENTIFIERS:
        text = getattr(facts, name)
        if not text:
            continue
        first = seen.keys.setdefault((name, key_of(name, text)), number)
        if first != number:
            faults.append(_("Row {first} has this {words} too.").format(first=first, words=WORDS[name]))
    if person is not None:
        first = seen.people.setdefault(person.pk, number)
        if first != number and not faults:
            faults.append(_("Row {first} is the same person.").format(first=first))
    return faults
