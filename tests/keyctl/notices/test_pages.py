"""The pages of mail: for administrators; why it failed, and one more try."""

import pytest
from django.template import Context, Template
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from keyctl.audit.models import Event
from keyctl.notices.models import Notice
from keyctl.notices.services import send_waiting
from tests.cast import Cast
from tests.keyctl.notices.conftest import Write
from tests.keyctl.notices.mailserver import Box

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("who", ["locksmith", "desk", "manager", "officer", "auditor", "requester"])
def test_only_administrators_read_mail(who: str, cast: Cast, write: Write, client: Client) -> None:
    client.force_login(cast.everybody[who])
    assert client.get(reverse("notices:list")).status_code == 403
    assert client.get(reverse("notices:detail", args=[write().pk])).status_code == 403


def test_mail_of_another_site_is_not_shown(cast: Cast, write: Write, client: Client) -> None:
    other = write(site=cast.south)
    client.force_login(cast.administrator)
    assert list(client.get(reverse("notices:list")).context["page"]) == []
    assert client.get(reverse("notices:detail", args=[other.pk])).status_code == 404


def test_the_page_says_that_no_server_is_named(
    cast: Cast, write: Write, client: Client, settings: Settings
) -> None:
    settings.EMAIL_HOST = ""
    notice = write(about=[cast.desk])
    client.force_login(cast.administrator)
    for address in (reverse("notices:list"), reverse("notices:detail", args=[notice.pk])):
        assert "Not sent: no mail server is named" in client.get(address).content.decode()
    tag = Template("{% load mail_words %}{% mail_about thing %}")
    assert "not sent: no mail server is named" in tag.render(Context({"thing": cast.desk}))


def test_the_list_is_narrowed_to_a_state(cast: Cast, write: Write, client: Client) -> None:
    write()
    nobody = write(to="")
    client.force_login(cast.administrator)
    page = client.get(reverse("notices:list"), {"state": "nobody"})
    assert list(page.context["page"]) == [nobody]


def test_what_failed_says_why_and_is_tried_again(
    cast: Cast, write: Write, client: Client, server: Box
) -> None:
    notice = write()
    server.answers["ann@example.org"] = ["550 moved away", "250 ok"]
    send_waiting(timezone.now())
    client.force_login(cast.administrator)
    address = reverse("notices:detail", args=[notice.pk])
    assert client.get(address).content.decode().count("550 moved away") == 2
    client.post(reverse("notices:retry", args=[notice.pk]))
    assert Event.objects.get().sentence == "asked for one more try to send “A test from keyctl”"
    send_waiting(timezone.now())
    assert server.recipients == ["ann@example.org"]
    assert client.post(reverse("notices:retry", args=[notice.pk])).status_code == 409


def test_a_bad_address_is_not_tried_again(cast: Cast, write: Write, client: Client) -> None:
    notice = write(to="nowhere")
    client.force_login(cast.administrator)
    answer = client.post(reverse("notices:retry", args=[notice.pk]))
    assert answer.status_code == 422
    assert "cannot be an e-mail address" in answer.content.decode()


def test_an_administrator_tries_the_mail_on_themselves(cast: Cast, client: Client, server: Box) -> None:
    client.force_login(cast.administrator)
    address = reverse("notices:test", args=[cast.north.pk])
    assert client.post(address).status_code == 422
    cast.administrator.email = "admin@example.org"
    cast.administrator.save()
    client.post(address)
    send_waiting(timezone.now())
    assert server.recipients == ["admin@example.org"]
    assert Notice.objects.get().state == "sent"
