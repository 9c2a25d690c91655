"""Who reads millimetres types millimetres: what comes of it is what inches give."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.bench.forms import RootDepths
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from tests.cast import Cast
from tests.keyctl.bench.tray import in_inches
from tests.signing import sign_in

MM_PER_INCH = Decimal("25.4")


@pytest.fixture
def metric(client: Client, cast: Cast) -> Client:
    User.objects.filter(pk=cast.locksmith.pk).update(units="mm")
    sign_in(client, cast.locksmith)
    return client


def in_mm(typed: dict[str, str]) -> dict[str, str]:
    """The same pins as a metric micrometer shows them, converted here by hand."""
    return {name: _converted(value) for name, value in typed.items()} | {"units": "mm"}


def _converted(value: str) -> str:
    return re.sub(r"\d*\.\d+", lambda found: str(Decimal(found.group()) * MM_PER_INCH), value)


def url(core: Core, act: str = "measure") -> str:
    return f"{reverse(f'bench:{act}')}?core={core.pk}"


def test_pins_in_millimetres_are_read_as_those_in_inches(metric: Client, core: Core) -> None:
    typed = in_inches(pins_of(core), longer=0.004)
    by_inches, by_mm = (metric.post(url(core), each) for each in (typed, in_mm(typed)))
    assert by_mm.context["chart"] == by_inches.context["chart"]
    # 4 thousandths of an inch are 0.1016 mm.
    assert "+10.2" in by_mm.content.decode()
    assert "+4.0" not in by_mm.content.decode()


def test_a_tray_in_millimetres_is_decoded(metric: Client, core: Core) -> None:
    typed = in_inches(pins_of(core), longer=0.001)
    by_inches = metric.post(url(core, "decode"), typed).context["decoding"].reading
    assert metric.post(url(core, "decode"), in_mm(typed)).context["decoding"].reading == by_inches


def test_the_page_says_its_unit_and_sends_it_along(metric: Client, core: Core) -> None:
    page = metric.get(url(core)).content.decode()
    assert "Tolerance, millimetres" in page
    assert "Lengths in millimetres by micrometer, like 3.75." in page
    assert '<input type="hidden" name="units" value="mm"' in page
    assert "Hundredths of a mm" in metric.post(url(core), in_mm(in_inches(pins_of(core)))).content.decode()


def test_a_form_is_read_in_the_unit_that_it_said(client: Client, cast: Cast, core: Core) -> None:
    """Somebody who chose another unit in between loses nothing, and nothing is misread."""
    client.force_login(cast.locksmith)
    answer = client.post(url(core), in_mm(in_inches(pins_of(core))))
    assert answer.context["chart"].off == ()


@pytest.mark.parametrize("typed", ["26 .1", "nan .1", "x .1", "inf .1", "-1 .1"])
def test_what_is_no_length_in_millimetres_is_refused(metric: Client, core: Core, typed: str) -> None:
    answer = metric.post(url(core), in_mm(in_inches(pins_of(core))) | {"pins_1": typed})
    assert answer.status_code == 422
    assert "is no length in millimetres, like 3.75." in str(answer.context["form"].errors["pins_1"])


@pytest.fixture
def depths() -> dict[str, str]:
    """Root depths of an A2 key: depth 0 leaves .318 (from memory), each depth .0125 less."""
    return {f"depth_{n}": str(Decimal(".318") - Decimal(".0125") * n) for n in range(1, 6)}


def test_root_depths_in_millimetres_are_those_in_inches(depths: dict[str, str]) -> None:
    chosen = engine.load_format("small-a2-5")
    told = {name: str(Decimal(value) * MM_PER_INCH) for name, value in depths.items()}
    by_inches = RootDepths(depths | {"tolerance_in": "0.002"}, format=chosen)
    by_mm = RootDepths(told | {"tolerance_in": "0.0508", "units": "mm"}, format=chosen)
    assert by_inches.is_valid(), by_inches.errors
    assert by_mm.is_valid(), by_mm.errors
    assert by_mm.cleaned_data == by_inches.cleaned_data


def test_a_tolerance_in_the_other_unit_is_refused(depths: dict[str, str]) -> None:
    """0.5 is half a millimetre at most, and half an inch never."""
    chosen = engine.load_format("small-a2-5")
    form = RootDepths(depths | {"tolerance_in": "0.5"}, format=chosen)
    assert not form.is_valid()
    assert "tolerance_in" in form.errors
