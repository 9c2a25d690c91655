"""The register shows what custody regulations ask for: key, out, issuer, receiver, back, who took it."""

from datetime import timedelta

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.keys import services
from keyctl.keys.models import Custody
from keyctl.keys.services import Signature
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, count_queries, sign_in

DRAWN = "M10 10L200 40L10 80L90 90L10 120L40 80"


def test_a_line_says_all_that_is_asked_for(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    services.take_back(actor=room.desk, copy=copy, cabinet=room.cabinet, brought_by="The porter")
    line = Custody.objects.get(copy=copy)
    page = sign_in(client, room.cast.auditor).get(reverse("keys:register")).content.decode()
    row = page[page.index("<tbody>") : page.index("</tbody>")]
    assert line.ended_at is not None
    for moment in (line.out_at, line.ended_at):
        assert f"{timezone.localtime(moment):%-d %b %Y, %H:%M}" in row
    for words in (str(copy), room.holder.name, "Holder One", str(room.desk), "Brought by The porter"):
        assert words in row


def test_it_is_searched_by_holder_serial_and_day(room: KeyRoom, client: Client) -> None:
    first, second = room.held(), room.give(room.in_stock(), factories.make_holder(room.site, name="Xaver"))
    Custody.objects.filter(copy=first).update(out_at=timezone.now() - timedelta(days=3))
    sign_in(client, room.desk)

    def found(**query: str) -> set[str]:
        page = client.get(reverse("keys:register"), query).content.decode()
        return {str(copy) for copy in (first, second) if str(copy) in page}

    assert found() == {str(first), str(second)}
    assert found(q="xav") == {str(second)}
    assert found(q=first.serial[:6]) == {str(first)}
    assert found(day=f"{timezone.localdate() - timedelta(days=3)}") == {str(first)}
    assert found(day="never") == {str(first), str(second)}


def test_an_act_shows_the_signature_and_the_text_that_was_signed(room: KeyRoom, client: Client) -> None:
    services.publish_terms(actor=room.cast.administrator, site=room.site, text="Bring it back.")
    act = services.issue_keys(
        actor=room.desk, holder=room.holder, copies=[room.in_stock()], signature=Signature(path=DRAWN)
    )
    services.publish_terms(actor=room.cast.administrator, site=room.site, text="Other words.")
    page = sign_in(client, room.desk).get(reverse("keys:handover", args=[act.pk])).content.decode()
    assert f'<path d="{DRAWN}"/>' in page
    assert "Bring it back." in page
    assert "Other words." not in page


def test_an_act_is_read_by_the_desk_and_by_whose_act_it_is(room: KeyRoom, client: Client) -> None:
    own = factories.make_holder(room.site, user=room.cast.requester)
    act = services.issue_keys(actor=room.desk, holder=own, copies=[room.in_stock()], signature=Signature("R"))
    readers = allowed("locksmith", "desk", "officer", "auditor", "administrator", "requester")
    assert answers(room.cast, "keys:handover", act.pk) == readers
    page = sign_in(client, room.cast.requester).get(reverse("keys:handover", args=[act.pk]))
    assert "AA1" not in page.content.decode()


def test_what_is_overdue_stands_on_its_own_list_and_on_the_holders_page(
    room: KeyRoom, client: Client
) -> None:
    late, fine = room.held(), room.held()
    Custody.objects.filter(copy=late).update(due_at=timezone.now() - timedelta(hours=2))
    sign_in(client, room.desk)
    page = client.get(reverse("keys:desk"), {"show": "overdue"}).content.decode()
    assert str(late) in page
    assert str(fine) not in page
    holder = client.get(reverse("keys:holder", args=[room.holder.pk])).content.decode()
    assert "1 key</span>" in holder


def test_the_number_of_queries_does_not_grow_with_the_lines(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    room.held()
    room.take_back(room.held())
    few = count_queries(client, reverse("keys:register"))
    for _ in range(5):
        room.give(room.in_stock(), factories.make_holder(room.site))
        room.take_back(room.held())
    assert count_queries(client, reverse("keys:register")) == few


def test_the_law_page_says_that_it_adds_up(room: KeyRoom, client: Client) -> None:
    room.held()
    page = sign_in(client, room.cast.auditor).get(reverse("keys:law")).content.decode()
    assert "Copies and register agree" in page
