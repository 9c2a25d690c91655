"""What is found by what: the whole first, then beginnings, words in any order, then what was mistyped."""

import pytest

from keyctl.keys.models import Holder, KeyCopy, Person
from keyctl.places.models import Door, Identifier
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast
from tests.keyctl.search.looking import finds, first, found, things


@pytest.fixture
def library(cast: Cast) -> Door:
    floor = factories.make_floor(cast.north)
    floor.building.code, floor.building.name = "LIB", "Library"
    floor.building.save()
    return factories.make_door(floor=floor, number="2.14", name="Reading room")


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.locksmith)


def test_a_door_is_found_by_its_number_however_it_is_written(cast: Cast, library: Door) -> None:
    for typed in ("2.14", "214", "2-14", "2 14", " 2.14 ", "LIB 2.14", "2.14 library", "reading 2.14"):
        assert first(cast.locksmith, typed) == library.pk, typed


def test_words_come_in_any_order_and_need_not_be_whole(cast: Cast, library: Door) -> None:
    for typed in ("reading room", "room reading", "libr read", "ROOM", "read"):
        assert finds(cast.locksmith, typed, library), typed
    for typed in ("reading hall", "2.15 cellar", "zzz"):
        assert not finds(cast.locksmith, typed, library), typed


def test_accents_and_case_do_not_matter(cast: Cast) -> None:
    door = factories.make_door(cast.north, number="7", name="Büro Ångström, Straße Łódź")
    for typed in ("buro", "BÜRO", "bu\u0308ro", "buero", "angstrom", "strasse", "STRAẞE", "lodz"):
        assert finds(cast.locksmith, typed, door), typed


def test_a_tag_is_found_whole_in_groups_by_its_beginning_and_mistyped(cast: Cast, library: Door) -> None:
    Door.objects.filter(pk=library.pk).update(tag="BCDF2345GHJK")
    for typed in ("BCDF2345GHJK", "bcdf-2345-ghjk", "BCDF 2345 GHJK", "BCDF 2345", "bcdf2"):
        assert first(cast.locksmith, typed) == library.pk, typed
    for typed in ("BCDF2354GHJK", "BCDF234GHJK", "BDF2345GHJKK", "CBDF2345GHKJ"):
        assert finds(cast.locksmith, typed, library), typed
    assert not finds(cast.locksmith, "WXZZ9876PQRS", library)


def test_signs_that_look_alike_are_taken_for_one_another(cast: Cast) -> None:
    door = factories.make_door(cast.north, number="AO10")
    other = factories.make_door(cast.north, number="AB10")
    for typed in ("A01O", "ao1o", "AOl0", "A0IO"):
        assert first(cast.locksmith, typed) == door.pk, typed
    assert first(cast.locksmith, "AB1O") == other.pk


def test_the_whole_name_stands_before_its_beginning_and_both_before_words(cast: Cast) -> None:
    words = factories.make_door(cast.north, number="9", name="Archive 101")
    begins = factories.make_door(cast.north, number="1012")
    whole = factories.make_door(cast.north, number="101")
    near = factories.make_door(cast.north, number="181")
    order = things(cast.locksmith, "101")
    assert order[:3] == [whole.pk, begins.pk, words.pk]
    assert near.pk in order[3:]


def test_a_blank_too_few_or_too_many_is_forgiven(cast: Cast, library: Door) -> None:
    for typed in ("readingroom", "rea ding room", "reading ro om", "readingroom 214", "readin groom"):
        assert finds(cast.locksmith, typed, library), typed


def test_a_key_is_found_by_its_symbol_and_its_copy_by_serial_and_stamp(cast: Cast, system: KeySystem) -> None:
    key, cabinet = factories.change_key(system), factories.make_cabinet(cast.north)
    copy = factories.make_copy(key, cabinet)
    KeyCopy.objects.filter(pk=copy.pk).update(stamp="K-0815")
    for typed in (
        key.symbol,
        key.symbol.lower(),
        f"{key.symbol[:2]} {key.symbol[2:]}",
        f"{key.symbol} {system.code}",
    ):
        assert first(cast.desk, typed) == key.pk, typed
    for typed in (copy.serial, str(copy), "K 0815", "k0815", "KO8I5"):
        assert first(cast.desk, typed) == copy.pk, typed
    assert finds(cast.desk, key.symbol, copy)
    assert first(cast.desk, cabinet.name) == cabinet.pk
    assert first(cast.desk, cabinet.tag) == cabinet.pk
    assert first(cast.desk, system.code) == system.pk


def test_people_are_found_by_name_and_department_and_never_by_mail(cast: Cast) -> None:
    holder = factories.make_holder(cast.north, name="Ada Lindqvist", email="secretmail@north.example")
    Holder.objects.filter(pk=holder.pk).update(department="Botany")
    person = Person.objects.create(display_name="Ada Lindqvist", email="secretmail@north.example")
    for typed in ("lindqvist ada", "lindqvsit", "botany ada", "linqvist"):
        assert finds(cast.desk, typed, holder), typed
    assert finds(cast.desk, "ada lindqvist", person)
    for typed in ("secretmail@north.example", "secretmail", "north.example"):
        assert not found(cast.desk, typed), typed


def test_an_identifier_of_another_program_is_found_by_the_whole_of_it(cast: Cast, library: Door) -> None:
    value = "2O2Fr$t4X7Zf8NOew3FLOH"
    Identifier.objects.create(site=cast.north, source="GlobalId", kind="door", value=value, door=library)
    assert first(cast.locksmith, value) == library.pk
    for typed in (value[:-1], value.lower(), value + "A", value.replace("$", "")):
        assert not finds(cast.locksmith, typed, library), typed


def test_a_core_is_found_by_its_tag(cast: Cast, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    assert first(cast.locksmith, core.tag) == core.pk
    assert first(cast.locksmith, str(core)) == core.pk
    assert found(cast.locksmith, core.tag[:6])[0].kind == "core"
