"""A bitting list that was written stands among the imports and is undone as one act; no row holds a cut."""

import json

import pytest

from keyctl.cores.models import Core
from keyctl.cores.services import pin_core
from keyctl.imports.models import Change, Import
from keyctl.jobs.models import Job
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.imports.dump import estate
from tests.keyctl.imports.files import kept, undone
from tests.keyctl.inherited.lists import ROWS, checked, writing

pytestmark = pytest.mark.django_db

CUTS = [row[1] for row in ROWS if row[1]]


def written(cast: Cast, **facts: str) -> Import:
    job = finish(writing(cast, checked(cast, **facts)))
    assert job.state == Job.State.DONE, job.failure
    return Import.objects.get(kind="bittings")


def test_what_a_list_wrote_is_taken_away_as_one_act(cast: Cast) -> None:
    before = estate()
    imported = written(cast)
    assert imported.counts["taken"]["bittings"]["created"] == 4
    assert (KeySystem.objects.count(), KeySymbol.objects.count(), Core.objects.count()) == (1, 4, 3)
    undone(cast.locksmith, imported)
    assert (kept(imported), estate()) == ([], before)


def test_no_row_of_it_holds_a_cut(cast: Cast) -> None:
    imported = written(cast)
    rows = Change.objects.filter(imported=imported).values()
    told = json.dumps([[str(value) for value in row.values()] for row in rows]) + str(imported.counts)
    assert len(rows) == 8
    assert not any(cuts in told for cuts in CUTS)


def test_keys_that_somebody_built_upon_stay_with_all_that_they_stand_on(cast: Cast) -> None:
    imported = written(cast)
    core = Core.objects.filter(keyed_to__symbol="1AA").get()
    pin_core(actor=cast.locksmith, core=core, version=core.version)
    undone(cast.locksmith, imported)
    assert set(KeySymbol.objects.values_list("symbol", flat=True)) >= {"1AA", "AA"}
    assert not KeySymbol.objects.filter(symbol="2AA").exists()
    assert list(Core.objects.all()) == [core]
    assert all(reason for _, reason in kept(imported))


def test_a_list_into_a_system_that_is_there_leaves_the_system(cast: Cast) -> None:
    first = written(cast)
    system = KeySystem.objects.get()
    more = [["3AA", "503072", "AA", "", ""]]
    listed = checked(cast, more, system=system)
    assert listed.errors == 0
    finish(writing(cast, listed))
    second = Import.objects.exclude(pk=first.pk).get(kind="bittings")
    assert KeySymbol.objects.count() == 5
    undone(cast.locksmith, second)
    assert KeySymbol.objects.count() == 4
    assert KeySystem.objects.get() == system


def test_a_copy_cut_since_keeps_its_key(cast: Cast) -> None:
    imported = written(cast)
    factories.make_copy(KeySymbol.objects.get(symbol="2AA"), factories.make_cabinet(cast.north))
    undone(cast.locksmith, imported)
    assert set(KeySymbol.objects.values_list("symbol", flat=True)) == {"2AA", "AA"}
