"""From the first page to the undo, as people go, without scripts."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keyctl.imports.models import Import
from keyctl.jobs.models import Job
from keyctl.places.models import Door
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.imports.files import DOORS, ROWS, as_csv, taken, tried

pytestmark = pytest.mark.django_db


def newest() -> Job:
    return Job.objects.order_by("-asked_at", "-pk")[0]


def press(client: Client, imported: Import, act: str) -> Job:
    """The form that stands on the page, as it stands there."""
    page = client.get(reverse("imports:detail", args=[imported.pk]))
    form = page.context["take_form"]
    said = {name: form[name].value() or "" for name in form.fields} | {"without_errors": "on"}
    answer = client.post(reverse(f"imports:{act}", args=[imported.pk]), said)
    assert answer.status_code == 302, answer.content.decode()
    return finish(newest())


def test_a_file_goes_its_way_from_the_form_to_the_undo(cast: Cast, client: Client) -> None:
    client.force_login(cast.administrator)
    choosing = client.get(reverse("imports:new")).content.decode()
    assert reverse("imports:bring", args=["doors"]) in choosing
    file = SimpleUploadedFile("doors.csv", as_csv([DOORS, *ROWS]), content_type="text/csv")
    sent = client.post(reverse("imports:bring", args=["doors"]), {"site": str(cast.north.pk), "file": file})
    imported = Import.objects.get()
    assert sent.headers["Location"] == reverse("imports:columns", args=[imported.pk])
    form = client.get(sent.headers["Location"]).context["form"]
    trying = client.post(sent.headers["Location"], {name: form[name].value() for name in form.fields})
    assert trying.headers["Location"] == reverse("jobs:detail", args=[newest().pk])
    finish(newest())
    page = client.get(reverse("imports:detail", args=[imported.pk])).content.decode()
    assert "Nothing is written yet" in page
    assert "Take it" in page
    press(client, imported, "take")
    assert Door.objects.count() == 4
    done = client.get(reverse("imports:detail", args=[imported.pk])).content.decode()
    assert "Undo this import" in done
    press(client, imported, "undo")
    assert not Door.objects.exists()
    assert (
        "18 rows taken back, 0 kept"
        in client.get(reverse("imports:detail", args=[imported.pk])).content.decode()
    )
    assert "Undone" in client.get(reverse("imports:list")).content.decode()


def test_rows_are_narrowed_and_told_as_a_table(cast: Cast, client: Client) -> None:
    client.force_login(cast.administrator)
    taken(cast.administrator, cast.north)
    rows = [
        [*ROWS[0][:3], "Lab", *ROWS[0][4:]],
        ["A", "Level 1", *[""] * 8],
        ["A", "Level 1", "=9", *[""] * 7],
    ]
    imported = tried(cast.administrator, cast.north, rows)
    address = reverse("imports:detail", args=[imported.pk])
    assert "Office → Lab" in client.get(address, {"show": "change"}).content.decode()
    assert "names no door number" in client.get(address, {"show": "errors"}).content.decode()
    assert "No row of this kind" in client.get(address, {"show": "create"}).content.decode()
    report = client.get(reverse("imports:report", args=[imported.pk]))
    assert report.headers["Content-Type"].startswith("text/csv")
    lines = report.getvalue().decode("utf-8-sig").splitlines()
    assert lines[0].startswith("Finding,Sheet,Row,Column")
    assert any("Changed,,2" in line and "Office,Lab,Planned" in line for line in lines)


def test_a_refusal_stands_on_the_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.administrator)
    file = SimpleUploadedFile("doors.csv", b"\x89PNG\0", content_type="text/csv")
    sent = client.post(reverse("imports:bring", args=["doors"]), {"site": str(cast.north.pk), "file": file})
    assert (sent.status_code, "neither a CSV file" in sent.content.decode()) == (422, True)
    imported = tried(cast.administrator, cast.north)
    late = client.post(reverse("imports:take", args=[imported.pk]), {"version": 1, "digest": imported.digest})
    assert (late.status_code, "worked on this import first" in late.content.decode()) == (422, True)


def test_each_is_offered_what_they_may_bring_in(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    page = client.get(reverse("imports:new")).content.decode()
    assert reverse("imports:bring", args=["cores"]) in page
    assert reverse("inherited:bring") in page
    assert reverse("imports:bring", args=["holders"]) not in page
    assert client.get(reverse("imports:bring", args=["holders"])).status_code == 403
    assert client.get(reverse("imports:bring", args=["bittings"])).status_code == 404
    client.force_login(cast.administrator)
    page = client.get(reverse("imports:new")).content.decode()
    assert reverse("imports:bring", args=["holders"]) in page
    assert reverse("imports:bring", args=["cores"]) not in page


def test_another_kind_of_import_is_not_read_by_who_may_not_take_it(cast: Cast, client: Client) -> None:
    header = ["Name", "E-mail"]
    imported = tried(
        cast.administrator, cast.north, [["Ada", "a@example.org"]], kind="holders", header=header
    )
    client.force_login(cast.locksmith)
    assert client.get(reverse("imports:detail", args=[imported.pk])).status_code == 403
    assert "holders.csv" not in client.get(reverse("imports:list")).content.decode()


def test_what_stands_in_a_first_row_without_headings_is_not_shown(cast: Cast, client: Client) -> None:
    client.force_login(cast.administrator)
    file = SimpleUploadedFile("d.csv", b"A,361492,705278\r\nB,1,2", content_type="text/csv")
    client.post(reverse("imports:bring", args=["doors"]), {"site": str(cast.north.pk), "file": file})
    page = client.get(reverse("imports:columns", args=[Import.objects.get().pk])).content.decode()
    assert "361492" not in page


def test_where_nothing_would_change_the_page_begins_with_what_was_found(cast: Cast, client: Client) -> None:
    imported = tried(cast.locksmith, cast.north, ROWS[:1])
    client.force_login(cast.locksmith)
    page = client.get(reverse("imports:detail", args=[imported.pk])).content.decode()
    assert "only an administrator" in page
    assert "No row of this kind" not in page
