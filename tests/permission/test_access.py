"""`access.py` by itself: pages that name no record are for whoever holds a role anywhere, and what is asked
for by another way than a page's address keeps to site and role as well."""

from types import SimpleNamespace
from typing import Any
from unittest.mock import patch
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.api import access as api
from keyctl.bench import access as bench
from keyctl.charts import access as charts
from keyctl.cores import access as cores
from keyctl.cores.proof import Scope
from keyctl.counts import access as counts
from keyctl.directory import access as directory
from keyctl.field import access as field
from keyctl.field.models import FieldPhoto
from keyctl.formats import access as formats
from keyctl.inherited import access as inherited
from keyctl.interim import access as interim
from keyctl.jobs import access as jobs
from keyctl.keys.models import KeyCopy, Person
from keyctl.leavers import access as leavers
from keyctl.lib.policy import Named, Policy, _differences, declared, routes, unsound_routes
from keyctl.losses import access as losses
from keyctl.operations.history import access as history
from keyctl.orders import access as orders
from keyctl.places import access as places
from keyctl.places.models import Membership
from keyctl.places.policing import every_route_has_a_policy
from keyctl.places.roles import Role
from keyctl.proofs import access as proofs
from keyctl.proofs.models import Proof
from keyctl.recovery import access as recovery
from keyctl.stock import access as stock
from keyctl.versions import access as versions
from tests import factories
from tests.cast import Cast
from tests.keyctl.formats.shop import make

SOMEWHERE = [
    bench.bench_site,
    charts.refuse_idle,
    charts.readable_charts,
    counts.refuse_outsiders,
    directory.refuse_outsiders,
    field.require_locksmith,
    field.require_keeper_somewhere,
    field.require_reader_somewhere,
    formats.require_maker,
    formats.require_fitter,
    history.require_staff,
    inherited.readable_sites,
    inherited.refuse_idle,
    interim.refuse_outsiders,
    leavers.refuse_outsiders,
    losses.readable_sites,
    places.require_administrator,
    proofs.require_reader,
    recovery.readable_sites,
    recovery.refuse_idle,
    stock.refuse_outsiders,
]


@pytest.mark.parametrize("ask", SOMEWHERE, ids=lambda ask: f"{ask.__module__.split('.')[1]}.{ask.__name__}")
def test_whoever_has_no_such_role_anywhere_is_turned_away(ask: Any, cast: Cast) -> None:
    with pytest.raises(PermissionDenied):
        ask(cast.requester)
    let_in = 0
    for user in cast.everybody.values():
        try:
            ask(user)
        except PermissionDenied:
            continue
        let_in += 1
    assert 0 < let_in < len(cast.everybody)


def test_a_bench_is_ones_own(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    assert bench.bench_site(cast.locksmith) == bench.bench_site(cast.locksmith, cast.north.pk) == cast.north
    with pytest.raises(Http404):
        bench.bench_site(cast.stranger, cast.north.pk)
    assert list(bench.workable_systems(cast.locksmith)) == [system]
    assert not bench.workable_systems(cast.stranger).exists()
    assert bench.site_of(cast.locksmith, system) == cast.north
    assert bench.core_tagged(cast.locksmith, f"https://keys.example/Q/{core.tag}") == core
    assert bench.core_tagged(cast.stranger, core.tag) is None
    assert bench.core_tagged(cast.locksmith, "") is None


def test_keys_of_an_order_are_those_of_its_site(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    key = factories.change_key(system)
    assert orders.workable_site(cast.locksmith, cast.north.pk) == cast.north
    with pytest.raises(Http404):
        orders.workable_site(cast.locksmith, uuid4())
    with pytest.raises(Http404):
        orders.workable_site(cast.stranger, cast.north.pk)
    assert orders.key_of(cast.north, key.pk) == key
    assert orders.system_of(cast.north, system.pk) == system
    for ask in (lambda: orders.key_of(cast.south, key.pk), lambda: orders.system_of(cast.south, system.pk)):
        with pytest.raises(Http404):
            ask()


def test_a_proof_is_asked_for_where_one_answers_for_all_of_it(cast: Cast) -> None:
    own = factories.make_system(cast.north, actor=cast.administrator)
    shared = factories.make_system(cast.north, cast.south, actor=cast.administrator)
    scope = Scope
    proofs.require_prover(cast.locksmith, scope(site=cast.north))
    proofs.require_prover(cast.locksmith, scope(system=own))
    for asked in (scope(system=shared), scope()):
        with pytest.raises(PermissionDenied):
            proofs.require_prover(cast.locksmith, asked)
    with pytest.raises(Http404):
        proofs.require_prover(cast.stranger, scope(site=cast.north))
    assert not proofs.visible_proofs(cast.auditor).exists()
    whole = Proof.objects.create(asked_by=cast.officer)
    mine = Proof.objects.create(asked_by=cast.officer, system=own)
    assert proofs.readable_proof(cast.auditor, mine.pk) == mine
    assert proofs.readable_proof(cast.stranger, whole.pk) == whole
    with pytest.raises(Http404):
        proofs.readable_proof(cast.stranger, mine.pk)


def test_formats_are_found_by_name(cast: Cast) -> None:
    assert formats.readable_format(cast.auditor, "small-a2-7").shop is None
    with pytest.raises(Http404):
        formats.readable_format(cast.auditor, "no-such-format")
    with pytest.raises(Http404):
        formats.retirable_format(cast.administrator, "small-a2-7")
    with pytest.raises(Http404):
        formats.removable_fit(cast.locksmith, uuid4())
    shop = make(cast.administrator, "our-own")
    assert formats.readable_format(cast.auditor, "our-own").shop == shop
    assert formats.retirable_format(cast.administrator, "our-own") == shop
    assert formats.may_make(cast.administrator)
    assert not formats.may_make(cast.locksmith)
    assert formats.may_fit(cast.locksmith)


def test_a_version_is_named_by_digits(cast: Cast) -> None:
    version: Any = type(
        "Version", (), {"system": factories.make_system(cast.north, actor=cast.administrator)}
    )
    for number in ("x", "", "1234567890", "٣", "77"):
        with pytest.raises(Http404):
            versions.sibling(version, number)


def test_files_of_a_job_are_for_who_started_it(cast: Cast) -> None:
    job = factories.make_job(cast.north, actor=cast.locksmith)
    assert jobs.may_stop(cast.locksmith, job)
    assert not jobs.may_stop(cast.auditor, job)
    with pytest.raises(PermissionDenied):
        jobs.require_to_stop(cast.auditor, job)
    kept: Any = SimpleNamespace(
        actor=cast.locksmith, site=cast.north, files_are_for_starter=True, file_roles=[Role.OFFICER]
    )
    assert not jobs.may_open_files(cast.officer, kept)
    with pytest.raises(PermissionDenied):
        jobs.require_file_role(cast.officer, kept)
    kept.files_are_for_starter = False
    assert jobs.may_open_files(cast.officer, kept)
    file = factories.make_job_file(job)
    with pytest.raises(Http404):
        jobs.readable_file(cast.stranger, file.pk)


def test_what_else_is_asked_beside_a_page(cast: Cast) -> None:
    assert field.sending_device(cast.locksmith, None) is None
    nowhere = FieldPhoto(content=b"", sha256="0" * 64, size=1)
    with (
        patch.object(field, "get_object_or_404", lambda *_arguments, **_facts: nowhere),
        pytest.raises(Http404),
    ):
        field.readable_photo(cast.locksmith, nowhere.pk)
    assert field.sending_device(cast.locksmith, uuid4()) is None
    api.require_administrator_of_all(cast.administrator, [cast.north])
    with pytest.raises(PermissionDenied):
        api.require_administrator_of_all(cast.administrator, [cast.north, cast.south])


def test_routes_and_policies_that_do_not_agree_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not every_route_has_a_policy()
    assert not list(unsound_routes())
    known, name = dict(routes()), "cores:detail"
    shifted = dict(declared())
    shifted["nowhere:at-all"] = shifted.pop(name)
    monkeypatch.setattr("keyctl.lib.policy.declared", lambda: shifted)
    told = [str(each.msg) for each in every_route_has_a_policy()]
    assert [sentence.split(" ")[2] for sentence in told] == [name, "nowhere:at-all"]
    wrong = (Policy.for_all("GET"), Policy.for_roles(reads=(), at=Named("cores.Core", parameter="number")))
    said = [list(_differences(name, known[name], policy)) for policy in wrong]
    assert [
        "asks for a sign-in" in said[0][0],
        "named by" in said[1][0] or "names a record" in said[1][0],
    ] == [True, True]
    no_login = _differences("operations:live", known["operations:live"], Policy.for_signed_in("GET"))
    assert "asks for no sign-in" in next(no_login)


def test_people_are_kept_by_who_administers_every_site(cast: Cast) -> None:
    person = Person.objects.create(display_name="Somebody New")
    assert directory.readable_person(cast.auditor, person.pk) == person
    with pytest.raises(Http404):
        directory.readable_person(cast.requester, person.pk)
    for ask in (directory.kept_person, directory.readable_list):
        with pytest.raises(PermissionDenied):
            ask(cast.administrator, person.pk)
    Membership.objects.create(user=cast.administrator, site=cast.south, role=Role.ADMINISTRATOR)
    assert directory.kept_person(cast.administrator, person.pk) == person
    with pytest.raises(Http404):
        directory.readable_list(cast.administrator, uuid4())
    with pytest.raises(Http404):
        directory.readable_list(cast.auditor, uuid4())


def test_a_lost_key_is_reported_by_who_holds_it(cast: Cast) -> None:
    with pytest.raises(Http404):
        losses.own_copy(cast.requester, uuid4())
    assert not losses.own_reports(cast.requester, KeyCopy()).exists()


def test_a_core_that_nobody_has_is_not_found(cast: Cast) -> None:
    with pytest.raises(Http404):
        cores.workable_core(cast.locksmith, uuid4())
