"""Tables of lists: what stands in them, read by others (the csv module, openpyxl); who takes them, and that
it is written down; that no cell begins a formula and no bitting leaves."""

import csv
import io
from typing import Any

import openpyxl
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.exports import taking
from keyctl.exports.models import TakenTable
from keyctl.exports.tables import TABLES
from keyctl.exports.taking import take_table
from keyctl.jobs.models import Job
from keyctl.keys.models import Custody, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.places.models import Door, Identifier
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.scenes.base import Base, build_base

pytestmark = pytest.mark.django_db

ROLES = ("locksmith", "desk", "manager", "officer", "auditor", "requester", "administrator")
PLAN = {"locksmith", "manager", "officer", "auditor", "administrator"}
PEOPLE = {"locksmith", "desk", "officer", "auditor", "administrator"}
# As DESIGN and the pages have it: who sees the list, or may have keying schedules.
TAKERS = {
    "doors": PLAN | {"desk"},
    "locks": PLAN,
    "cores": PLAN,
    "keys": PLAN,
    "copies": PEOPLE,
    "held": PEOPLE,
    "register": PEOPLE,
    "orders": PLAN,
}


@pytest.fixture
def base(cast: Cast) -> Base:
    base = build_base(cast)
    line = factories.make_line(base.copy, base.holder, by=cast.desk)
    KeyCopy.objects.filter(pk=base.copy.pk).update(
        state="held", holder=base.holder, custody=line, cabinet=None
    )
    return base


def taken(client: Client, name: str, form: str = "csv", **said: str) -> Any:
    return client.post(reverse("exports:table", args=[name]), {"form": form}, query_params=said)


def csv_rows(answer: Any) -> list[dict[str, str]]:
    """By the standard library, as RFC 4180 has it."""
    text = answer.content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def sheet_rows(content: bytes) -> list[dict[str, Any]]:
    rows = list(openpyxl.load_workbook(io.BytesIO(content)).worksheets[1].values)
    return [dict(zip(map(str, rows[0]), row, strict=True)) for row in rows[1:]]


def test_every_list_is_told_in_full_in_both_forms(client: Client, base: Base) -> None:
    client.force_login(base.cast.administrator)
    counts = {
        "doors": Door.objects.count(),
        "locks": 1,
        "cores": Core.objects.count(),
        "keys": KeySymbol.objects.count(),
        "copies": KeyCopy.objects.count(),
        "held": 1,
        "register": Custody.objects.count(),
        "orders": 0,
    }
    assert counts.keys() == TABLES.keys()
    for name, count in counts.items():
        plain, sheet = taken(client, name), taken(client, name, "xlsx")
        assert plain.status_code == sheet.status_code == 200, name
        rows = csv_rows(plain)
        assert len(rows) == count, name
        told = [
            {key: "" if value is None else str(value) for key, value in row.items()}
            for row in sheet_rows(sheet.content)
        ]
        assert told == rows


def test_pages_name_a_table_in_their_language_and_files_and_history_in_english(
    client: Client, base: Base
) -> None:
    client.force_login(base.cast.administrator)
    in_german = {"accept-language": "de"}
    made = client.post(reverse("exports:table", args=["doors"]), {"form": "xlsx"}, headers=in_german)
    assert openpyxl.load_workbook(io.BytesIO(made.content)).sheetnames[1] == "Doors"
    assert "took doors as XLSX" in Event.objects.get(verb="table.taken").sentence
    client.force_login(base.cast.auditor)
    page = client.get(reverse("exports:register"), headers=in_german).content.decode()
    assert "Türen, XLSX" in page


def test_what_a_row_says(client: Client, base: Base) -> None:
    client.force_login(base.cast.administrator)
    door = base.housing.door
    (row,) = csv_rows(taken(client, "doors"))
    assert (row["Site"], row["Building"], row["Floor"]) == (
        "NORTH",
        door.floor.building.code,
        door.floor.label,
    )
    assert (row["Door number"], row["Locks"], row["Core type"]) == (
        door.number,
        base.housing.kind,
        base.housing.construction,
    )
    (lock,) = csv_rows(taken(client, "locks"))
    assert (lock["Core tag"], lock["Door number"]) == (str(base.core), door.number)
    (held,) = csv_rows(taken(client, "held"))
    assert (held["Holder"], held["Serial"]) == (base.holder.name, str(base.copy))
    assert held["Key symbol"] == base.change.symbol
    (copy,) = csv_rows(taken(client, "copies"))
    assert (copy["Serial"], copy["State"]) == (str(base.copy), "held")
    keys = {row["Key symbol"]: row for row in csv_rows(taken(client, "keys"))}
    assert keys[base.change.symbol]["Copies"] == "1"


def test_it_is_narrowed_as_the_list_is(client: Client, base: Base) -> None:
    factories.make_door(base.cast.north, number="Unlike")
    client.force_login(base.cast.administrator)
    assert len(csv_rows(taken(client, "doors"))) == 2
    assert [row["Door number"] for row in csv_rows(taken(client, "doors", q="Unlike"))] == ["Unlike"]
    assert csv_rows(taken(client, "locks", q="Unlike")) == []
    assert csv_rows(taken(client, "cores", q="Unlike")) == []
    assert csv_rows(taken(client, "copies", show="stock")) == []
    assert len(csv_rows(taken(client, "copies", show="out"))) == 1
    assert csv_rows(taken(client, "register", q="nobody of this name")) == []
    assert csv_rows(taken(client, "register", day="not a day")) != []
    assert csv_rows(taken(client, "keys", system=str(base.holder.pk))) == []
    building = base.housing.door.building
    assert len(csv_rows(taken(client, "locks", building=str(building.pk)))) == 1
    assert TakenTable.objects.latest("asked_at").words == f"site: NORTH, building: {building.code}"
    assert len(csv_rows(taken(client, "keys", system=str(base.system.pk)))) > 2
    assert TakenTable.objects.latest("asked_at").words == f"system: {base.system.code}"
    words = TakenTable.objects.filter(table="doors").values_list("words", flat=True)
    assert set(words) == {"", "q: Unlike"}


@pytest.mark.parametrize("name", TAKERS)
def test_the_cast_takes_what_it_may(name: str, client: Client, base: Base) -> None:
    for who in ROLES:
        client.force_login(getattr(base.cast, who))
        expected = 200 if who in TAKERS[name] else 403
        assert taken(client, name).status_code == expected, (who, name)


def test_a_stranger_gets_nothing_of_another_site(client: Client, base: Base) -> None:
    client.force_login(base.cast.stranger)
    for name in TABLES:
        assert csv_rows(taken(client, name)) == [], name


def test_an_unknown_table_or_form(client: Client, base: Base) -> None:
    client.force_login(base.cast.administrator)
    assert taken(client, "secrets").status_code == 404
    assert client.get(reverse("exports:table", args=["doors"])).status_code == 405
    with pytest.raises(Refused, match="CSV or XLSX"):
        take_table(actor=base.cast.administrator, table=TABLES["doors"], form="pdf", said={})
    assert not TakenTable.objects.exists()


def test_no_cell_begins_a_formula(client: Client, base: Base) -> None:
    """What a spreadsheet takes for one, by the list of OWASP (CSV injection): = + - @ tab and return."""
    evil = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1"]
    for number, text in enumerate(evil):
        factories.make_door(base.cast.north, number=f"{number}", name=text)
    client.force_login(base.cast.administrator)
    cells = [cell for row in csv_rows(taken(client, "doors")) for cell in row.values()]
    assert not [cell for cell in cells if cell[:1] in {"=", "+", "@", "\t", "\r"}]
    assert {cell for cell in cells if cell.startswith("'")} >= {"'=1+1", "'+1", "'-1", "'@SUM(A1)"}
    book = openpyxl.load_workbook(io.BytesIO(taken(client, "doors", "xlsx").content))
    kinds = {cell.data_type for row in book.worksheets[1].iter_rows() for cell in row}
    assert "f" not in kinds


def test_no_bitting_and_no_pin_leaves(client: Client, base: Base) -> None:
    secrets = [vault.unseal(key, "bitting") for key in KeySymbol.objects.all()]
    secrets += [vault.unseal(core, "pinning") for core in Core.objects.exclude(pinning=None)]
    assert len(secrets) > 3
    client.force_login(base.cast.administrator)
    for name in TABLES:
        text = taken(client, name).content.decode()
        assert not [secret for secret in secrets if secret in text], name


def test_it_is_written_down(client: Client, base: Base) -> None:
    client.force_login(base.cast.desk)
    answer = taken(client, "copies", show="out")
    found = TakenTable.objects.get()
    assert (found.table, found.form, found.rows, found.words) == ("copies", "csv", 1, "show: out")
    assert (found.tells_of_people, found.actor, list(found.sites.all())) == (
        True,
        base.cast.desk,
        [base.cast.north],
    )
    assert f'filename="copies-{found.number}.csv"' in answer["Content-Disposition"]
    event = Event.objects.get(verb="table.taken")
    assert event.site_id == base.cast.north.pk
    assert "names of holders" in event.sentence
    assert base.holder.name not in event.sentence + str(event.detail)


def test_officers_and_auditors_read_the_register(client: Client, base: Base) -> None:
    client.force_login(base.cast.locksmith)
    taken(client, "doors", q="<b>")
    number = str(TakenTable.objects.get())
    for who, status in (("officer", 200), ("auditor", 200), ("locksmith", 403), ("stranger", 403)):
        client.force_login(getattr(base.cast, who))
        answer = client.get(reverse("exports:register"))
        assert answer.status_code == status
        assert (number in answer.content.decode()) == (status == 200)
    away = factories.make_user(site=base.cast.south, role=Role.OFFICER)
    client.force_login(away)
    assert number not in client.get(reverse("exports:register")).content.decode()


def test_a_long_table_is_made_by_a_job(client: Client, base: Base, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(taking, "MOST_AT_ONCE", 0)
    client.force_login(base.cast.auditor)
    answer = taken(client, "doors", "xlsx", q="")
    job = Job.objects.get()
    assert answer.headers["Location"] == reverse("jobs:detail", args=[job.pk])
    assert TakenTable.objects.get().rows is None
    assert finish(job).state == Job.State.DONE
    found = TakenTable.objects.get()
    assert found.rows == 1
    file = job.files.get()
    assert file.name == found.file_name
    assert len(sheet_rows(vault.unseal_bytes(file, "content"))) == 1


def test_rights_that_ended_while_a_job_waited(base: Base, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(taking, "MOST_AT_ONCE", 0)
    made = take_table(actor=base.cast.auditor, table=TABLES["doors"], form="csv", said={})
    assert made.job
    base.cast.auditor.memberships.all().delete()
    assert finish(made.job).state == Job.State.FAILED
    assert not made.job.files.exists()


def test_buttons_stand_where_they_may_be_pressed(client: Client, base: Base) -> None:
    pages = {
        "cores:estate": {"doors", "locks", "cores"},
        "keys:desk": {"copies", "held"},
        "keys:register": {"register"},
    }
    for who in ("desk", "auditor"):
        client.force_login(getattr(base.cast, who))
        for route, names in pages.items():
            said = {"show": "out"} if route == "keys:desk" else {}
            text = client.get(reverse(route), said).content.decode()
            shown = {name for name in TABLES if f'action="{reverse("exports:table", args=[name])}' in text}
            assert shown == {name for name in names if who in TAKERS[name]}, (who, route)


def test_the_number_of_queries_does_not_grow_with_the_rows(client: Client, base: Base) -> None:
    client.force_login(base.cast.administrator)
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            for name in TABLES:
                taken(client, name)
        counts.append(len(asked))
        for number in range(3):
            door = factories.make_door(base.cast.north, number=f"{len(counts)}-{number}")
            factories.make_housing(base.cast.north, door=door)
            Identifier.objects.create(
                site=base.cast.north, source="own list", kind="door", value=f"{door.pk}", door=door
            )
    assert counts[0] == counts[1]
