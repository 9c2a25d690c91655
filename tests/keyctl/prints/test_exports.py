"""Lists of a whole system: every row is there, numbered and marked, and nothing leaves without a trace."""

import io
import json
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core, Turn
from keyctl.jobs.models import Job
from keyctl.jobs.services import open_file
from keyctl.lib.errors import Refused
from keyctl.places.models import Membership
from keyctl.prints.lists import rows
from keyctl.prints.models import Export
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.prints import exported
from tests.keyctl.prints.exported import REASON, Form, Kind, allow, lettered_system, made, pages_of, vault_of
from tests.keyctl.prints.reading import faults_of
from tests.signing import proven, sign_in


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return lettered_system(cast)


@pytest.fixture
def estate(cast: Cast, system: KeySystem) -> KeySystem:
    """A core in a door, one on the bench, one without pins, one that is gone."""
    keys = list(system.symbols.filter(kind=KeySymbol.Kind.CHANGE).order_by("parent__ordinal", "ordinal"))
    make = factories.make_core
    door = factories.make_door(cast.north, name="=SUM(A1)", number="+104")
    placed = make(actor=cast.locksmith, site=cast.north, system=system, symbols=[keys[0]])
    factories.install(placed, factories.make_housing(door=door))
    make(actor=cast.locksmith, site=cast.north, system=system, symbols=[keys[1], keys[40]])
    make(actor=cast.locksmith, site=cast.north, system=system, symbols=[keys[2]], pinned=False)
    gone = make(actor=cast.locksmith, site=cast.north, system=system, symbols=[keys[3]])
    Core.objects.filter(pk=gone.pk).update(place=Core.Place.GONE)
    return system


Ask = Callable[..., Job]


@pytest.fixture
def ask(cast: Cast, system: KeySystem) -> Ask:
    def ask(kind: Export.Kind = Kind.BITTINGS, form: Export.Form = Form.PDF, **facts: object) -> Job:
        return exported.ask(cast, system, kind, form, **facts)

    return ask


class TestBittingList:
    def test_the_paper_holds_every_key_with_its_bitting(self, system: KeySystem, ask: Ask) -> None:
        document = made(ask())
        assert faults_of(document) == []
        pages = pages_of(document)
        found = re.findall(r"\b([A-Z]+\d*) +(\d{7})\b", "\n".join(pages[1:]))
        assert len(found) == 70  # top, 4 masters, 64 change keys, control
        assert dict(found) == vault_of(system)

    def test_the_workbook_holds_every_key_with_its_bitting(self, system: KeySystem, ask: Ask) -> None:
        sheet = load_workbook(io.BytesIO(made(ask(form=Form.WORKBOOK))))["Keys"]
        head, *lines = sheet.iter_rows(values_only=True)
        assert head == ("Kind", "Level", "Symbol", "Under", "Bitting")
        assert {row[2]: row[4] for row in lines} == vault_of(system)
        parents = {
            key.symbol: key.parent and key.parent.symbol for key in system.symbols.select_related("parent")
        }
        assert {row[2]: row[3] for row in lines} == parents
        assert (sheet.freeze_panes, sheet.print_title_rows) == ("A2", "$1:$1")

    def test_every_page_carries_who_when_and_its_number(self, cast: Cast, ask: Ask) -> None:
        job = ask()
        export = Export.objects.get()
        when = f"{export.asked_at:%d %b %Y, %H:%M}".lstrip("0")
        pages = pages_of(made(job))
        for number, page in enumerate(pages, 1):
            assert f"Page {number} of {len(pages)}" in page
            assert f"{cast.locksmith}, {when}, {export}" in page
            assert "SECRET" in page
        assert REASON in pages[0]

    def test_the_workbook_is_marked_at_head_and_foot(self, ask: Ask) -> None:
        job = ask(form=Form.WORKBOOK)
        export = Export.objects.get()
        book = load_workbook(io.BytesIO(made(job)))
        for sheet in book.worksheets:
            for edge in (sheet.oddHeader, sheet.oddFooter):
                assert edge is not None
                assert str(export) in (edge.center.text or "")
        about = {row[0]: str(row[1]) for row in book["About"].iter_rows(values_only=True)}
        assert about["Reason"] == REASON
        assert "cut every key" in about["Secret"]

    def test_history_knows_before_the_vault_opens(
        self, system: KeySystem, ask: Ask, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        known: list[str] = []

        def look(_system: KeySystem) -> list[object]:
            known.extend(event.sentence for event in history_of(system)[:1])
            return []

        monkeypatch.setattr(rows, "key_rows", look)
        finish(ask())
        assert known == [f"put the bittings of 70 keys of KS-X into export {Export.objects.get()}"]

    def test_history_tells_the_asking_the_opening_and_each_download(
        self, cast: Cast, system: KeySystem, ask: Ask
    ) -> None:
        job = ask()
        made(job)
        open_file(actor=cast.locksmith, sign_in=proven(cast.locksmith), file=job.files.get())
        export = Export.objects.get()
        verbs = [event.verb for event in history_of(export).order_by("id")]
        assert verbs[:3] == ["export.asked", "export.released", "export.opened"]
        assert verbs[3:] == ["job.file_downloaded", "job.file_downloaded"]
        assert "export.asked" in {event.verb for event in history_of(system)}
        assert f"export {export}: {REASON}" in history_of(export).order_by("id")[0].sentence

    def test_no_bitting_stands_in_events_jobs_exports_or_addresses(self, system: KeySystem, ask: Ask) -> None:
        job = ask()
        made(job)
        job.refresh_from_db()
        stored = [*Event.objects.values(), *Job.objects.values(), *Export.objects.values()]
        words = repr(stored) + json.dumps(job.outcome) + str(job.files.get())
        assert [bitting for bitting in vault_of(system).values() if bitting in words] == []

    def test_the_file_is_sealed(self, ask: Ask) -> None:
        job = finish(ask(form=Form.WORKBOOK))
        assert not bytes(job.files.get().content).startswith(b"PK")
        assert b"xl/worksheets" not in bytes(job.files.get().content)


class TestKeyingSchedule:
    def test_the_workbook_holds_every_core_and_no_bitting(self, estate: KeySystem, ask: Ask) -> None:
        content = made(ask(Kind.SCHEDULE, Form.WORKBOOK))
        sheet = load_workbook(io.BytesIO(content))["Cores"]
        _, *lines = sheet.iter_rows(values_only=True)
        by_core = {row[5]: row for row in lines}
        cores = {str(core): core for core in Core.objects.exclude(place=Core.Place.GONE)}
        assert set(by_core) == set(cores)
        for name, core in cores.items():
            turns = core.turns.filter(operates=True).values_list("symbol__symbol", flat=True)
            assert set(str(by_core[name][10] or "").split()) == set(turns)
            assert by_core[name][9] == ("yes" if core.is_pinned else "no")
        assert [bitting for bitting in vault_of(estate).values() if bitting in repr(lines)] == []

    @pytest.mark.usefixtures("estate")
    def test_what_looks_like_a_formula_is_text(self, ask: Ask) -> None:
        sheet = load_workbook(io.BytesIO(made(ask(Kind.SCHEDULE, Form.WORKBOOK))))["Cores"]
        cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
        assert {cell.data_type for cell in cells} == {"s"}
        hostile = [cell for cell in cells if str(cell.value)[0] in "=+"]
        assert {cell.value for cell in hostile} == {"=SUM(A1)", "+104"}
        assert all(cell.quotePrefix for cell in hostile)

    @pytest.mark.usefixtures("estate")
    def test_the_paper_tells_the_plan_and_the_pins_apart(self, ask: Ask) -> None:
        placed = Core.objects.get(housing__isnull=False)
        Turn.objects.filter(core=placed, symbol__symbol="AA").delete()
        document = made(ask(Kind.SCHEDULE))
        assert faults_of(document) == []
        pages = "\n".join(pages_of(document)[1:])
        for core in Core.objects.exclude(place=Core.Place.GONE):
            assert str(core) in pages
        assert "not turned by AA" in pages
        assert "not pinned yet" in pages
        assert "also turned by" in pages  # a cross-keyed core lets keys in that nobody meant

    @pytest.mark.usefixtures("estate")
    def test_gone_cores_are_left_out(self, ask: Ask) -> None:
        gone = Core.objects.get(place=Core.Place.GONE)
        assert str(gone) not in "\n".join(pages_of(made(ask(Kind.SCHEDULE))))


class TestWhoMay:
    @pytest.mark.parametrize(
        ("kind", "may"),
        [
            (Kind.BITTINGS, {"locksmith", "officer"}),
            (Kind.SCHEDULE, {"locksmith", "officer", "manager", "auditor", "administrator"}),
        ],
    )
    def test_ask_for_it(self, cast: Cast, ask: Ask, kind: Export.Kind, may: set[str]) -> None:
        for name, person in cast.everybody.items():
            if name in may:
                assert ask(kind, actor=person).state == Job.State.WAITING
            else:
                with pytest.raises((PermissionDenied, Http404)):
                    ask(kind, actor=person)

    def test_only_with_a_reason(self, ask: Ask) -> None:
        with pytest.raises(Refused, match="Say why"):
            ask(reason="  ")
        assert not Export.objects.exists()

    def test_only_at_a_site_of_the_system(self, cast: Cast, ask: Ask) -> None:
        with pytest.raises(Refused, match="not used at"):
            ask(actor=cast.stranger, site=cast.south)

    def test_not_made_for_somebody_who_lost_the_role_meanwhile(self, cast: Cast, ask: Ask) -> None:
        job = ask()
        Membership.objects.filter(user=cast.locksmith).update(role="auditor")
        assert finish(job).state == Job.State.FAILED
        assert not Event.objects.filter(verb="export.opened").exists()
        assert not job.files.exists()

    def test_an_auditor_takes_the_schedule_they_asked_for_and_no_bitting_list(
        self, cast: Cast, ask: Ask
    ) -> None:
        assert made(ask(Kind.SCHEDULE, Form.WORKBOOK, actor=cast.auditor))[:2] == b"PK"
        secret = finish(ask(form=Form.WORKBOOK)).files.get()
        with pytest.raises(PermissionDenied):
            open_file(actor=cast.auditor, sign_in=proven(cast.auditor), file=secret)

    def test_a_bitting_list_is_for_who_asked_and_no_other_officer(self, cast: Cast, ask: Ask) -> None:
        secret = finish(ask(form=Form.WORKBOOK)).files.get()
        with pytest.raises(PermissionDenied):
            open_file(actor=cast.officer, sign_in=proven(cast.officer), file=secret)


class TestPages:
    def test_a_list_is_asked_for_and_downloaded_from_pages(
        self, cast: Cast, system: KeySystem, client: Client
    ) -> None:
        sign_in(client, cast.officer)
        page = reverse("prints:system", args=[system.pk])
        assert page in client.get(reverse("systems:detail", args=[system.pk])).content.decode()
        facts = {"kind": "bitting-list", "form": "xlsx", "site": cast.north.pk, "reason": REASON}
        client.post(page, facts)
        export = Export.objects.get()
        allow(cast, export)
        client.post(reverse("prints:make", args=[export.pk]))
        job = Job.objects.get()
        finish(job)
        answer = client.post(reverse("jobs:file", args=[job.files.get().pk]))
        assert load_workbook(io.BytesIO(answer.content))["Keys"].max_row == 71

    def test_an_auditor_is_offered_the_schedule_only(
        self, cast: Cast, system: KeySystem, client: Client
    ) -> None:
        sign_in(client, cast.auditor)
        page = reverse("prints:system", args=[system.pk])
        assert [form.kind for form in client.get(page).context["forms"]] == [Kind.SCHEDULE]
        facts = {"kind": "bitting-list", "form": "pdf", "site": cast.north.pk, "reason": REASON}
        assert client.post(page, facts).status_code == 403
        assert not Export.objects.exists()

    def test_without_a_reason_the_form_comes_back(
        self, cast: Cast, system: KeySystem, client: Client
    ) -> None:
        sign_in(client, cast.locksmith)
        facts = {"kind": "bitting-list", "form": "pdf", "site": cast.north.pk, "reason": ""}
        assert client.post(reverse("prints:system", args=[system.pk]), facts).status_code == 422
        assert not Export.objects.exists()

    def test_the_register_shows_who_why_and_how_often(self, cast: Cast, ask: Ask, client: Client) -> None:
        job = ask(form=Form.WORKBOOK)
        made(job)
        open_file(actor=cast.locksmith, sign_in=proven(cast.locksmith), file=job.files.get())
        sign_in(client, cast.auditor)
        page = client.get(reverse("prints:exports"))
        (row,) = page.context["rows"]
        assert (row.export.rows, row.downloads) == (70, 2)
        for words in (str(row.export), REASON, str(cast.locksmith), "KS-X"):
            assert words in page.content.decode()

    def test_who_reads_the_register(self, cast: Cast, ask: Ask, client: Client) -> None:
        ask()
        for name, person in cast.everybody.items():
            sign_in(client, person)
            status = client.get(reverse("prints:exports")).status_code
            assert status == (200 if name in {"officer", "auditor"} else 403)

    def test_the_register_of_another_site_is_not_shown(self, cast: Cast, ask: Ask, client: Client) -> None:
        ask()
        sign_in(client, factories.make_user("far-auditor", site=cast.south, role="auditor"))  # type: ignore[arg-type]
        assert client.get(reverse("prints:exports")).context["rows"] == []

    def test_the_register_outlives_the_files(self, ask: Ask) -> None:
        job = ask(form=Form.WORKBOOK)
        made(job)
        job.files.update(made_at=timezone.now() - timedelta(days=30))
        job.files.all().delete()
        assert Export.objects.get().rows == 70
