"""What a scan means, and what lands on the tray; what is refused loses nothing."""

from collections.abc import Callable

import pytest

from keyctl.desk.models import Tray
from keyctl.desk.scanning import read_scan
from keyctl.keys.models import KeyCopy, Person
from keyctl.keys.services import report_broken
from tests import factories
from tests.keyctl.desk.counter import Counter, words_of
from tests.keyctl.keys.keyroom import KeyRoom


@pytest.mark.parametrize("spelling", ["{0}", "{0.serial}", " {0} ", "{0.stamp}", "white 7"])
def test_a_key_is_found_by_serial_and_stamp_however_it_is_typed(spelling: str, room: KeyRoom) -> None:
    copy = room.in_stock()
    copy.stamp = "WHITE 7"
    copy.save()
    assert read_scan(room.site, spelling.format(copy)).copy == copy
    assert read_scan(room.site, str(copy).lower()).copy == copy
    assert "Nothing was scanned" in read_scan(room.site, " ").trouble


def test_the_beginning_of_a_serial_will_do_where_one_key_has_it(room: KeyRoom) -> None:
    first, second = room.in_stock(), room.in_stock()
    KeyCopy.objects.filter(pk=first.pk).update(serial="BCDF2345GHJK")
    KeyCopy.objects.filter(pk=second.pk).update(serial="BCDF6789GHJK")
    assert read_scan(room.site, "BCDF-2").copy == first
    assert "Several keys begin with" in read_scan(room.site, "BCDF").trouble
    assert "Nothing at" in read_scan(room.site, "BCD").trouble


@pytest.mark.parametrize("text", ["000417", "Ann.Bell@example.org", "abell", "ann bell", "Bell", "bell ann"])
def test_somebody_is_found_by_card_address_user_name_and_name(text: str, room: KeyRoom) -> None:
    person = Person.objects.create(
        display_name="Ann Bell", external_id="000417", user_name="abell", email="ann.bell@example.org"
    )
    assert read_scan(room.site, text).takers == (person,)
    holder = factories.make_holder(room.site, person=person, name="Ann Bell", email="ann.bell@example.org")
    assert read_scan(room.site, text).takers == (holder,)


def test_an_exact_name_goes_before_a_longer_one(room: KeyRoom) -> None:
    exact = factories.make_holder(room.site, name="Ann Bell")
    factories.make_holder(room.site, name="Ann Bellamy")
    assert read_scan(room.site, "ann bell").takers == (exact,)
    assert len(read_scan(room.site, "ann").takers) == 2


def test_keys_and_holders_of_another_site_and_those_who_left_are_not_found(room: KeyRoom) -> None:
    factories.make_holder(room.cast.south, name="Sue South")
    factories.make_holder(room.site, name="Sue Gone", is_active=False)
    Person.objects.create(display_name="Sue Away", is_active=False)
    elsewhere = factories.make_copy(room.symbol, factories.make_cabinet(room.cast.south))
    assert read_scan(room.site, "Sue").trouble
    assert read_scan(room.site, str(elsewhere)).trouble


def test_the_card_of_somebody_who_left_says_so(room: KeyRoom) -> None:
    Person.objects.create(display_name="Sue Away", external_id="000999", is_active=False)
    assert read_scan(room.site, "000999").trouble == "Sue Away has left and receives no keys."
    gone = factories.make_holder(room.site, name="Sue Gone", email="sue@example.org", is_active=False)
    assert read_scan(room.site, "Sue@example.org").trouble == f"{gone} has left and receives no keys."


def test_too_many_people_of_a_name_are_not_listed(room: KeyRoom) -> None:
    for number in range(9):
        factories.make_holder(room.site, name=f"Kim {number}")
    assert "Type more of the name" in read_scan(room.site, "Kim").trouble


def test_the_list_grows_with_what_each_key_is(counter: Counter, room: KeyRoom) -> None:
    copies = [room.in_stock() for _ in range(3)]
    counter.scan(room.holder.name)
    for copy in copies:
        piece = words_of(counter.scan_piece(copy))
    assert counter.serials == [copy.serial for copy in copies]
    assert f"For {room.holder}." not in piece
    assert "Keys on the list: 3." in piece
    for words in (str(copies[0]), room.symbol.symbol, str(room.cabinet), 'hx-swap-oob="innerHTML"'):
        assert words in piece
    assert "<html" not in piece


def test_a_reload_shows_the_same_list(counter: Counter, room: KeyRoom) -> None:
    copy = room.in_stock()
    counter.scan(room.holder.name)
    counter.scan(copy)
    page = words_of(counter.page())
    assert str(copy) in page
    assert room.holder.name in page


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("held", "is out with"),
        ("destroyed", "was destroyed"),
        ("broken", "is broken"),
        ("twice", "on the list already"),
        ("unknown", "answers to"),
    ],
)
def test_what_cannot_go_is_refused_and_the_list_stays(
    state: str, words: str, counter: Counter, room: KeyRoom
) -> None:
    kept = room.in_stock()
    counter.scan(room.holder.name)
    counter.scan(kept)
    made: dict[str, Callable[[], object]] = {
        "held": room.held,
        "destroyed": room.destroyed,
        "broken": lambda: report_broken(actor=room.desk, copy=room.in_stock(), note="Bent"),
        "twice": lambda: kept,
        "unknown": lambda: "no such key",
    }
    text = made[state]()
    for answer in (counter.scan(text), counter.scan_piece(text)):
        assert answer.status_code == 422
        assert words in words_of(answer)
        assert str(kept) in words_of(answer)
    assert counter.serials == [kept.serial]


def test_the_next_persons_card_does_not_take_over_the_keys(counter: Counter, room: KeyRoom) -> None:
    other = factories.make_holder(room.site, name="Next Person")
    counter.scan(room.holder.name)
    counter.scan(room.in_stock())
    answer = counter.scan("Next Person")
    assert answer.status_code == 422
    assert "Finish that act, or clear the list" in words_of(answer)
    assert counter.tray.holder == room.holder
    counter.post("clear")
    counter.scan("Next Person")
    assert counter.tray.holder == other


def test_one_of_several_people_is_chosen(counter: Counter, room: KeyRoom) -> None:
    first = factories.make_holder(room.site, name="Ann Bell", department="Physics")
    person = Person.objects.create(display_name="Ann Bellamy", email="bellamy@example.org")
    page = words_of(counter.scan("ann"))
    assert "Physics" in page
    assert "bellamy@example.org (no holder here yet)" in page
    counter.post("taker", holder=first.pk)
    assert counter.tray.holder == first
    counter.post("taker", person=person.pk)
    assert counter.tray.person == person


def test_undo_takes_the_last_key_off_and_then_the_person(counter: Counter, room: KeyRoom) -> None:
    first, second = room.in_stock(), room.in_stock()
    for text in (room.holder.name, first, second):
        counter.scan(text)
    counter.scan("-")
    assert counter.serials == [first.serial]
    counter.post("undo")
    assert counter.serials == []
    counter.post("undo")
    assert counter.tray.taker is None
    assert counter.post("undo").status_code == 422


def test_any_line_can_be_taken_off(counter: Counter, room: KeyRoom) -> None:
    first, second = room.in_stock(), room.in_stock()
    for copy in (first, second):
        counter.scan(copy)
    line = counter.tray.lines.get(copy=first)
    counter.client.post(f"/desk/lines/{line.pk}/leave-out/")
    assert counter.serials == [second.serial]


def test_nobody_touches_the_counter_of_another_clerk(counter: Counter, room: KeyRoom) -> None:
    counter.scan(room.in_stock())
    line = counter.tray.lines.get()
    other = factories.make_user("other-clerk", site=room.site, role="key-desk")  # type: ignore[arg-type]
    counter.client.force_login(other)
    assert counter.client.post(f"/desk/lines/{line.pk}/leave-out/").status_code == 404
    assert str(line.copy) not in words_of(counter.page())


def test_a_lost_key_is_offered_as_found_and_then_goes_on_the_list(counter: Counter, room: KeyRoom) -> None:
    lost = room.lost()
    page = words_of(counter.scan(lost))
    assert "is reported lost" in page
    assert "It is found: put it on the list" in page
    assert counter.serials == []
    counter.post("found", copy=lost.pk, cabinet=room.cabinet.pk)
    lost.refresh_from_db()
    assert (lost.state, counter.serials) == ("in-cabinet", [lost.serial])


def test_nothing_typed_goes_on_to_the_signature(counter: Counter) -> None:
    answer = counter.scan(" ")
    assert answer.headers["Location"].endswith("?sign=1#sign")
    assert "data-desk-name autofocus" in words_of(counter.client.get(answer.headers["Location"]))


def test_looking_keeps_nothing(counter: Counter) -> None:
    counter.page()
    assert not Tray.objects.exists()


@pytest.mark.parametrize("who", ["locksmith", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_the_key_desk_works_at_the_counter(who: str, counter: Counter, room: KeyRoom) -> None:
    counter.client.force_login(room.cast.everybody[who])
    assert counter.page().status_code == 403
    assert counter.scan(room.in_stock()).status_code == 403
