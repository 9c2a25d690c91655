"""Bringing a list in, from the form to the system's page."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keyctl.inherited.models import BittingList
from keyctl.jobs.models import Job
from keyctl.systems.models import KeySystem
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.inherited.lists import HEADER, NEW, ROWS, as_csv, brought, checked

pytestmark = pytest.mark.django_db


def upload(cast: Cast, content: bytes, **facts: str) -> dict[str, object]:
    file = SimpleUploadedFile("list.csv", content, content_type="text/csv")
    return {"file": file, "site": str(cast.north.pk), "system": "", **NEW, **facts}


def test_a_list_goes_its_way_from_the_form_to_the_system(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    sent = client.post(reverse("inherited:bring"), upload(cast, as_csv([HEADER, *ROWS])))
    listed = BittingList.objects.get()
    assert sent.headers["Location"] == reverse("inherited:columns", args=[listed.pk])
    form = client.get(sent.headers["Location"]).context["form"]
    said = {name: form[name].value() for name in form.fields} | {"has_header": "on"}
    checking = client.post(sent.headers["Location"], said)
    job = finish(Job.objects.get())
    assert checking.headers["Location"] == reverse("jobs:detail", args=[job.pk])
    page = client.get(reverse("inherited:detail", args=[listed.pk]))
    assert "Every row fits" in page.content.decode()
    form = page.context["write_form"]
    client.post(reverse("inherited:write", args=[listed.pk]), {n: form[n].value() or "" for n in form.fields})
    finish(Job.objects.order_by("-asked_at")[0])
    assert KeySystem.objects.get(code="OLD").symbols.count() == 4
    assert "Written" in client.get(reverse("inherited:list")).content.decode()


def test_findings_are_shown_by_weight_and_hold_no_cut(cast: Cast, client: Client) -> None:
    client.force_login(cast.officer)
    listed = checked(cast, [["AA", "36149", "", "", ""], ["1AA", "583614", "AB", "", ""]])
    address = reverse("inherited:detail", args=[listed.pk])
    text = client.get(address).content.decode()
    assert "5 cuts are given" in text
    assert "36149" not in text
    assert "583614" not in text
    assert "None of this kind" not in client.get(address, {"show": "errors"}).content.decode()
    assert "Write " not in text


def test_a_refused_file_says_why_on_the_form(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(reverse("inherited:bring"), upload(cast, b"\x89PNG\0"))
    assert answer.status_code == 422
    assert "neither a CSV file nor a workbook" in answer.content.decode()
    nameless = client.post(reverse("inherited:bring"), upload(cast, as_csv([HEADER, *ROWS]), code=""))
    assert "give the code, name and keyway" in nameless.content.decode()
    assert not BittingList.objects.exists()


@pytest.mark.parametrize(("person", "status"), [("officer", 403), ("auditor", 403), ("stranger", 404)])
def test_only_a_locksmith_of_the_site_works_on_a_list(
    cast: Cast, client: Client, person: str, status: int
) -> None:
    listed = brought(cast)
    client.force_login(cast.everybody[person])
    for name in ("check", "write", "leave", "columns"):
        answer = client.post(reverse(f"inherited:{name}", args=[listed.pk]), {"version": listed.version})
        assert answer.status_code == status


def test_somebody_elses_change_is_told(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    listed = brought(cast)
    answer = client.post(reverse("inherited:leave", args=[listed.pk]), {"version": "0"})
    assert answer.status_code == 422
    assert "Somebody else worked on this list" in answer.content.decode()
