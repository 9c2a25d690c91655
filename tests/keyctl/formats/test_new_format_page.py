"""The page that makes a format: live checks, refusals by field, copies, and nothing typed is lost."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from django.test import Client

from keyctl import engine
from keyctl.formats.models import ShopFormat
from tests.cast import Cast
from tests.keyctl.formats.shop import TEN_IS_NOUGHT, TYPED, make, typed

NEW, CHECK = "/formats/new/", "/formats/new/check/"
LIVE = {"HX-Request": "true"}
FIGURES = dict.fromkeys(("name", "format_id"), "")


@pytest.fixture
def admin(client: Client, cast: Cast) -> Client:
    client.force_login(cast.administrator)
    return client


def errors(client: Client, **changes: str) -> dict[str, list[str]]:
    answer = client.post(NEW, typed(**changes))
    assert answer.status_code == 422
    assert not ShopFormat.objects.exists()
    return dict(answer.context["form"].errors)


def test_a_filled_form_makes_the_format_that_was_meant(admin: Client) -> None:
    answer = admin.post(NEW, typed())
    assert answer.headers["Location"] == "/formats/own-ten/"
    loaded = engine.format_parameters(engine.load_format("own-ten"))
    assert {name: loaded[name] for name in TEN_IS_NOUGHT} == TEN_IS_NOUGHT


def test_lengths_may_be_given_in_inches(admin: Client) -> None:
    admin.post(NEW, typed(unit="inches", increment=".014", base_pin="0.15", plug_diameter="0.5"))
    made = engine.load_format("own-ten")
    assert (made.increment_in, made.base_pin_in, made.plug_diameter_in) == (0.014, 0.15, 0.5)


def test_a_driver_table_is_read_row_by_row(admin: Client) -> None:
    """The rows of the ordinary cylinder's own table; a dash of any kind and spaces do no harm."""
    changes = {"control_kind": "none", "sleeve_positions": "", "addition": "", "total_sleeve": ""}
    changes |= {"pins_control": "", "total_plain": "", "drivers": "0-3: 1\n\n 4 – 6 = 2\n7-10:3"}
    admin.post(NEW, typed(**changes))
    drivers = engine.format_parameters(engine.load_format("own-ten"))["drivers"]
    assert [tuple(row.values()) for row in drivers] == [(0, 3, 1), (4, 6, 2), (7, 10, 3)]


WRONG: list[tuple[str, dict[str, str], str]] = [
    ("positions", {"positions": "17"}, "A number from 1 to 16 is expected"),
    ("depths", {"depths": "1123456789"}, "stands for two depths"),
    ("depths", {"depths": "123456789-"}, "stands for a position without pins"),
    ("depth_values", {"depth_values": "1-9"}, "10 numbers are expected, one per depth"),
    ("depth_values", {"depth_values": "one"}, "‘one’ is no size"),
    ("increment", {"increment": "0.0125"}, "check the unit of lengths"),
    ("base_pin", {"unit": "inches", "increment": ".014"}, "check the unit of lengths"),
    ("step", {"step": "0"}, "A number from 1 to 20"),
    ("sleeve_positions", {"sleeve_positions": "5-6"}, "a position above 5"),
    ("sleeve_positions", {"sleeve_positions": ""}, "missing"),
    ("addition", {"addition": ""}, "missing"),
    ("addition", {"control_kind": "none"}, "Only a sleeve has this"),
    ("total_sleeve", {"total_sleeve": ""}, "Give the total, what a stack under the sleeve adds up to"),
    ("total_plain", {"total_plain": ""}, "Give a total, or a table of drivers"),
    ("drivers", {"drivers": "0-9: 1"}, "keep one of the two"),
    ("drivers", {"drivers": "0-9"}, "Line 1, ‘0-9’"),
    ("drivers", {"total_plain": "", "drivers": "0-5: 1\n5-9: 2"}, "stands in two rows"),
    ("pins_bottom", {"pins_bottom": "9-2"}, "write the smaller size first"),
    ("pins_control", {"pins_control": ""}, "Give the control sizes that the kit has"),
    ("plug_diameter", {"plug_diameter": "270"}, "would leave nothing of the key"),
    ("plug_diameter", {"plug_diameter": "500000"}, "A length in inches is expected"),
    ("format_id", {"format_id": "small-a2-7"}, "is taken"),
    ("format_id", {"format_id": "Own Ten"}, "small letters and digits"),
]


@pytest.mark.parametrize(("field", "changes", "sentence"), WRONG)
def test_each_refusal_stands_at_its_field(
    admin: Client, field: str, changes: dict[str, str], sentence: str
) -> None:
    assert sentence in " ".join(errors(admin, **changes)[field])


def test_a_wrong_field_is_not_told_missing_as_well(admin: Client) -> None:
    assert list(errors(admin, macs="x", positions="many")) == ["positions", "macs"]


def test_nothing_typed_is_lost(admin: Client) -> None:
    answer = admin.post(NEW, typed(positions="0", drivers="0-9: one", pins_top="1-12, x"))
    form = answer.context["form"]
    assert {name: form[name].value() for name in TYPED} == typed(
        positions="0", drivers="0-9: one", pins_top="1-12, x"
    )
    assert "0-9: one</textarea>" in answer.content.decode()


def test_the_live_check_answers_the_fragment_with_drawing_and_proof(admin: Client) -> None:
    answer = admin.post(CHECK, typed(), headers=LIVE)
    shown = answer.content.decode()
    assert "<html" not in shown
    assert "Ready to be made" in shown
    assert "<svg" in shown
    assert "can be built" in shown


def test_the_live_check_clears_what_an_earlier_answer_said(admin: Client) -> None:
    assert "Not made yet" in admin.post(NEW, typed(step="0")).content.decode()
    shown = admin.post(CHECK, typed(), headers=LIVE).content.decode()
    assert '<div id="form-summary" hx-swap-oob="true"></div>' in shown


def test_the_live_check_stores_nothing(
    admin: Client, writes: Callable[[], AbstractContextManager[list[str]]]
) -> None:
    with writes() as written:
        admin.post(CHECK, typed(), headers=LIVE)
    assert written == []


def test_the_live_check_tells_wrong_fields_from_empty_ones(admin: Client) -> None:
    answer = admin.post(CHECK, typed(name="", pins_top="", step="0"), headers=LIVE)
    check = answer.context["check"]
    assert [field.name for field in check.missing] == ["name", "pins_top"]
    assert [(each.label, each.target) for each in check.complaints] == [("Progression step", "id_step")]
    assert check.drawing is None


def test_the_picture_needs_no_name_yet(admin: Client) -> None:
    answer = admin.post(CHECK, typed(**FIGURES), headers=LIVE)
    assert not answer.context["check"].is_ready
    assert answer.context["check"].drawing is not None


def test_an_empty_form_is_no_fault(admin: Client) -> None:
    answer = admin.post(CHECK, {}, headers=LIVE)
    assert answer.status_code == 200
    assert answer.context["check"].complaints == ()


def test_without_scripts_the_check_button_gives_the_whole_page(admin: Client) -> None:
    shown = admin.post(CHECK, typed(step="0")).content.decode()
    assert "<html" in shown
    assert 'formaction="/formats/new/check/"' in shown
    assert "A number from 1 to 20" in shown
    assert 'value="1-20"' in shown


@pytest.mark.parametrize("source", [format_id for format_id, _ in engine.format_names()])
def test_a_copy_of_any_format_of_the_package_makes_the_same_figures(admin: Client, source: str) -> None:
    form = admin.get(f"{NEW}?from={source}").context["form"]
    said: dict[str, Any] = {name: form[name].value() for name in form.fields}
    sent = {name: "" if value is None else str(value) for name, value in said.items()}
    admin.post(NEW, sent | {"name": "A copy", "format_id": "own-copy"})
    copied = engine.format_parameters(engine.load_format("own-copy"))
    named = {"id": "own-copy", "name": "A copy"}
    assert copied == engine.format_parameters(engine.load_format(source)) | named


def test_a_copy_takes_neither_name_nor_id(admin: Client) -> None:
    form = admin.get(f"{NEW}?from=small-a2-7").context["form"]
    assert (form["name"].value(), form["format_id"].value()) == (None, None)


def test_an_own_format_can_be_copied_too(admin: Client, cast: Cast) -> None:
    make(cast.administrator, "own-one")
    form = admin.get(f"{NEW}?from=own-one").context["form"]
    assert (form["depths"].value(), form["depth_values"].value()) == ("1234567890", "1-10")


def test_there_is_nothing_to_copy_of_an_unknown_format(admin: Client) -> None:
    assert admin.get(f"{NEW}?from=no-such-thing").status_code == 404
