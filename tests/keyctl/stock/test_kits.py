"""A kit is opened once: a bin for every role and size."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.stock import services
from keyctl.stock.models import PinBin, PinMove
from tests.keyctl.stock.bench import Bench


def test_it_opens_a_bin_for_every_pin_and_knows_no_count_yet(bench: Bench) -> None:
    bench.open_kit(low_at=15)
    # Bottom pins 0-9 and wafers 2-19 in three roles (A2; wafers 2-19: Keynotes 2024-10 p.55).
    assert PinBin.objects.count() == 10 + 3 * 18
    assert set(PinBin.objects.values_list("count", "low_at")) == {(None, 15)}


def test_a_stocked_kit_is_counted_with_its_movements(bench: Bench) -> None:
    bench.stock(each=50, low_at=5)
    assert set(PinBin.objects.values_list("count", "low_at")) == {(50, 5)}
    assert set(PinMove.objects.values_list("reason", "change")) == {("counted", 50)}


def test_bins_that_a_job_opened_are_stocked_like_others(bench: Bench) -> None:
    bench.use({("master", 4): 3})
    bench.stock(each=50, low_at=5)
    assert set(PinBin.objects.values_list("count", "low_at")) == {(50, 5)}


def test_history_tells_of_the_kit(bench: Bench) -> None:
    bench.stock()
    assert list(Event.objects.order_by("at").values_list("verb", flat=True)) == [
        "stock.kit_opened",
        "stock.counted",
    ]


def test_it_refuses_a_kit_that_is_there_under_another_length(bench: Bench) -> None:
    bench.open_kit()
    with pytest.raises(Refused, match="A2 system are at North site already"):
        bench.open_kit(format=engine.load_format("small-a2-5"))


def test_another_system_is_another_kit(bench: Bench) -> None:
    bench.open_kit()
    bench.open_kit(format=engine.load_format("small-a4-7"))
    assert PinBin.objects.values("family").distinct().count() == 2


def test_each_site_has_bins_of_its_own(bench: Bench) -> None:
    bench.open_kit()
    services.open_kit(actor=bench.cast.stranger, site=bench.cast.south, format=bench.format)
    assert PinBin.objects.filter(site=bench.cast.south).count() == 64


def test_a_manager_may_not_open_a_kit(bench: Bench) -> None:
    with pytest.raises(PermissionDenied):
        services.open_kit(actor=bench.cast.manager, site=bench.site, format=bench.format)


def test_a_stranger_finds_no_such_site(bench: Bench) -> None:
    with pytest.raises(Http404):
        services.stock_kit(actor=bench.cast.stranger, site=bench.site, format=bench.format, each=1)


def test_the_database_keeps_one_bin_per_role_and_size(bench: Bench) -> None:
    bench.open_kit()
    double = {"site": bench.site, "family": bench.bin().family, "role": "master", "size": 4}
    with pytest.raises(IntegrityError), transaction.atomic():
        PinBin.objects.create(**double)


@pytest.mark.parametrize("wrong", [{"count": -1}, {"count": None, "is_doubtful": True}])
def test_the_database_keeps_counts_sane(bench: Bench, wrong: dict[str, object]) -> None:
    bench.open_kit()
    with pytest.raises(IntegrityError), transaction.atomic():
        PinBin.objects.filter(pk=bench.bin().pk).update(**wrong)


@pytest.mark.parametrize(
    ("reason", "change"), [("used", 1), ("scrapped", 0), ("bought", -1), ("returned", 0)]
)
def test_the_database_keeps_movements_going_their_way(bench: Bench, reason: str, change: int) -> None:
    bench.open_kit()
    with pytest.raises(IntegrityError), transaction.atomic():
        PinMove.objects.create(bin=bench.bin(), reason=reason, change=change, by=bench.smith)


def test_a_movement_is_never_changed_or_taken_out(bench: Bench) -> None:
    bench.stock()
    move = bench.bin().moves.get()
    for act in (move.save, move.delete, PinMove.objects.all().delete):
        with pytest.raises(TypeError, match="append-only"):
            act()
