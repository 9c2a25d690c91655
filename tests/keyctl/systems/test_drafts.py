"""A key system thought through first: worked out, changed, thrown away, and made by a job."""

import json
from dataclasses import replace
from random import Random

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.jobs.models import Job
from keyctl.jobs.running import Cancelled, Running
from keyctl.jobs.selectors import failure_shown_to
from keyctl.jobs.services import cancel_job, resume_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem, SystemDraft
from keyctl.systems.services import bitting_of, design_of
from keyctl.systems.services.drafting import discard_draft, drawn_for, make_keys, wanted_of, work_out
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.jobs import finish

SMALL = engine.Wanted("small-a2-7", (2, 3, 4), "partial")


def drafted(cast: Cast, wanted: engine.Wanted = SMALL, **facts: object) -> SystemDraft:
    given = {"sites": [cast.north], "code": "NEW", "name": "New keys", "keyway": "W1", **facts}
    return work_out(actor=cast.locksmith, wanted=wanted, rng=Random(5), **given)  # type: ignore[arg-type]


def test_working_out_counts_the_room_and_makes_no_key(cast: Cast) -> None:
    draft = drafted(cast)
    rooms = [(room["level"], room["least"], room["most"], room["all"]) for room in draft.rooms]
    assert rooms == [(1, 4, 4, 4), (2, 4, 4, 8), (3, 4, 4, 24)]
    assert (draft.facts["keys"], draft.facts["idle_positions"]) == (1 + 2 + 6 + 24 + 1, 4)
    assert not KeySystem.objects.exists()


def test_what_was_typed_and_drawn_is_sealed(cast: Cast) -> None:
    draft = drafted(cast, replace(SMALL, master="1432541"))
    assert drawn_for(draft).tree.master.text == "1432541"
    shown = f"{draft.rooms}{draft.facts}{Event.objects.get(verb='draft.worked_out').sentence}"
    assert "1432541" not in shown
    assert b"1432541" not in bytes(draft.asked) + bytes(draft.design)


def test_a_limit_makes_the_room_below_some_keys_smaller(cast: Cast) -> None:
    """Counted by walking the whole tree of the same design."""
    draft = drafted(cast, engine.Wanted("fixed-6", (9, 12)))
    tree = drawn_for(draft).tree
    below = [len(list(tree.children(path).usable())) for path, _ in tree.walk([9]) if path]
    assert draft.rooms[1] == {"level": 2, "least": min(below), "most": max(below), "all": sum(below)}


def test_total_progression_gives_what_is_left_to_the_last_level(cast: Cast) -> None:
    draft = drafted(cast, replace(SMALL, method="total"))
    assert (draft.facts["positions"], draft.facts["idle_positions"]) == ([1, 1, 5], 0)
    assert draft.rooms[2]["least"] == 4**5


def test_a_two_step_system_has_the_parity_pattern_that_was_asked_for(cast: Cast) -> None:
    """Every key has the parity of the top master in each position (common practice)."""
    design = drawn_for(drafted(cast, replace(SMALL, parity="EOOEOEE")))
    for key in design.keys([2, 3, 4]):
        assert [int(cut) % 2 for cut in key.bitting] == [0, 1, 1, 0, 1, 0, 0]


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (replace(SMALL, parity="EOE"), "in each of the 7 positions"),
        (replace(SMALL, parity="EOOEOEX"), "in each of the 7 positions"),
        (engine.Wanted("small-a4-7", (2,), parity="EOOEOEE"), "Only a two-step system"),
        (replace(SMALL, parity="EOOEOEE", master="1432541"), "leave one of the two empty"),
    ],
)
def test_a_parity_pattern_that_does_not_fit_is_refused(cast: Cast, wanted: engine.Wanted, words: str) -> None:
    with pytest.raises(Refused) as refused:
        drafted(cast, wanted)
    assert words in " ".join(refused.value.sentences)


def test_a_change_draws_anew_and_keeps_a_typed_master(cast: Cast) -> None:
    draft = drafted(cast, replace(SMALL, master="1432541"))
    again = drafted(cast, replace(SMALL, needs=(4, 4)), draft=draft, code="OTHER")
    assert (again.pk, again.code, again.needs) == (draft.pk, "OTHER", [4, 4])
    assert drawn_for(again).tree.master.text == "1432541"
    assert wanted_of(again).needs == (4, 4)


def test_a_change_keeps_a_typed_array_with_its_master(cast: Cast) -> None:
    array = ("357", "0268", "1579", "0468", "1379", "0268", "3579")
    draft = drafted(cast, replace(SMALL, master="1432541", array=array))
    again = drafted(cast, replace(SMALL, needs=(3,)), draft=draft)
    assert drawn_for(again).tree.array[0] == (3, 5, 7)


def test_the_keys_are_made_by_a_job_as_the_draft_drew_them(cast: Cast) -> None:
    draft = drafted(cast)
    design = drawn_for(draft)
    job = finish(make_keys(actor=cast.locksmith, draft=draft))
    draft.refresh_from_db()
    system = draft.system
    assert system is not None
    assert job.state == Job.State.DONE
    assert draft.made_at is not None
    assert {key.symbol: bitting_of(key) for key in system.symbols.filter(level__isnull=False)} == {
        key.symbol: key.bitting for key in design.keys([2, 3, 4])
    }
    assert bitting_of(system.symbols.get(kind=KeySymbol.Kind.CONTROL)) == design.control
    assert design_of(system).parameters == design.parameters
    assert "34 keys on 4 levels" in job.outcome["sentence"]
    assert design.tree.master.text not in json.dumps(job.outcome)


def test_each_master_knows_how_many_keys_fit_below_it(cast: Cast) -> None:
    finish(make_keys(actor=cast.locksmith, draft=drafted(cast)))
    rooms = KeySymbol.objects.order_by("level").values_list("kind", "level", "room")
    assert set(rooms) == {
        ("master", 0, 4),
        ("master", 1, 4),
        ("master", 2, 4),
        ("change", 3, None),
        ("control", None, None),
    }


def test_a_stopped_job_goes_on_where_it_was(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keyctl.systems.services.making.KEYS_AT_ONCE", 10)
    draft, step = drafted(cast), Running.step
    job = make_keys(actor=cast.locksmith, draft=draft)

    def stopping(running: Running, done: int, total: int, words: str = "") -> None:
        step(running, done, total, words)
        if done == 20:
            raise Cancelled

    with monkeypatch.context() as patched:
        patched.setattr(Running, "step", stopping)
        assert finish(job).state == Job.State.STOPPED
    assert KeySymbol.objects.count() == 20
    client.force_login(cast.auditor)
    assert "still being made" in client.get(f"/systems/{KeySystem.objects.get().pk}/").content.decode()
    resumed = resume_job(actor=cast.locksmith, job=job)
    assert finish(resumed).state == Job.State.DONE
    assert KeySymbol.objects.count() == 34
    assert len({bitting_of(key) for key in KeySymbol.objects.all()}) == 34


def test_16_384_changes_are_designed_and_stored(cast: Cast) -> None:
    """4^7 changes by total position progression in a two-step system (Keynotes, A2/A3/A4 comparison)."""
    draft = drafted(cast, engine.Wanted("small-a2-7", (4, 16, 256)))
    assert [room["all"] for room in draft.rooms] == [4, 64, 16_384]
    job = finish(make_keys(actor=cast.locksmith, draft=draft))
    system = KeySystem.objects.get(code="NEW")
    counts = [system.symbols.filter(level=level).count() for level in range(4)]
    assert (job.state, job.done, job.total) == (Job.State.DONE, 16_454, 16_454)
    assert counts == [1, 4, 64, 16_384]
    assert len(set(system.symbols.values_list("fingerprint", flat=True))) == 16_454


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (engine.Wanted("small-a2-7", ()), "how many keys stand below each key"),
        (engine.Wanted("small-a2-7", (4, 0)), "how many keys stand below each key"),
        (engine.Wanted("small-a2-7", (400, 400)), "100,000 can be made at once"),
        (engine.Wanted("small-a2-7", (4, 16, 257)), "No key system can be designed"),
        (engine.Wanted("small-a2-7", (4,), "rotating", constants=(1,)), "by hand where some are held"),
        (engine.Wanted("small-a2-7", (4,), array=("3",) * 7), "both or neither"),
        (engine.Wanted("small-a2-7", (4,), "rotating"), "Say for one level at least"),
        (engine.Wanted("small-a2-7", (4,), groups=((1,),), constants=(1,)), "choose that method"),
        (engine.Wanted("small-a2-7", (4,), groups=((1, 2, 4, 5, 7),)), "give positions 3, 6 to one"),
        (engine.Wanted("small-a2-7", (5,), "partial", groups=((1,),)), "No key system can be designed"),
        (engine.Wanted("small-a2-7", (4,), "partial", groups=((1, 1),)), "No key system can be designed"),
    ],
)
def test_what_does_not_fit_is_refused(cast: Cast, wanted: engine.Wanted, words: str) -> None:
    with pytest.raises(Refused, match=words):
        drafted(cast, wanted)
    assert not SystemDraft.objects.exists()


def test_rotating_constants_and_rules_go_into_the_keys(cast: Cast) -> None:
    rotating = engine.Wanted(
        "small-a2-7",
        (4, 20),
        "rotating",
        groups=((1,), (7, 6, 5, 4)),
        constants=(0, 2),
        rules={"max_equal": 3},
    )
    finish(make_keys(actor=cast.locksmith, draft=drafted(cast, rotating)))
    top = bitting_of(KeySymbol.objects.get(level=0))
    for key in KeySymbol.objects.filter(level=2):
        text = bitting_of(key)
        assert sum(text[place] == top[place] for place in (3, 4, 5, 6)) == 2
        assert max(map(text.count, text)) <= 3


def test_a_draft_is_thrown_away_with_what_was_drawn(cast: Cast) -> None:
    draft = drafted(cast)
    discard_draft(actor=cast.locksmith, draft=draft)
    assert not SystemDraft.objects.exists()
    assert Event.objects.filter(verb="draft.discarded").exists()


def test_a_draft_that_is_made_is_not_changed_nor_made_again(cast: Cast) -> None:
    draft = drafted(cast)
    job = make_keys(actor=cast.locksmith, draft=draft)
    with pytest.raises(Conflict, match="being made already"):
        make_keys(actor=cast.locksmith, draft=draft)
    finish(job)
    with pytest.raises(Conflict, match="cannot be changed"):
        discard_draft(actor=cast.locksmith, draft=draft)


def test_a_draft_thrown_away_while_its_job_waits_makes_nothing(cast: Cast) -> None:
    draft = drafted(cast)
    job = make_keys(actor=cast.locksmith, draft=draft)
    discard_draft(actor=cast.locksmith, draft=draft)
    assert finish(job).state == Job.State.FAILED
    assert not KeySystem.objects.exists()


def test_a_code_is_drafted_once(cast: Cast) -> None:
    drafted(cast)
    with pytest.raises(Refused, match="There is a draft NEW already"):
        drafted(cast)
    factories.make_system(cast.north, actor=cast.locksmith, code="THERE")
    with pytest.raises(Refused, match="There is a key system THERE already"):
        drafted(cast, code="THERE")


def test_only_who_designs_works_on_drafts(cast: Cast) -> None:
    draft = drafted(cast)
    for name, raised in (("desk", PermissionDenied), ("auditor", PermissionDenied), ("stranger", Http404)):
        actor = getattr(cast, name)
        for act in (discard_draft, make_keys):
            with pytest.raises(raised):
                act(actor=actor, draft=draft)


def test_the_sealed_figures_open_only_in_their_own_field(cast: Cast) -> None:
    draft = drafted(cast)
    draft.asked, draft.design = draft.design, draft.asked
    with pytest.raises(Exception, match="keyctl"):
        vault.unseal(draft, "design")


def test_a_draft_is_not_changed_while_its_keys_are_being_made(cast: Cast) -> None:
    draft = drafted(cast)
    job = make_keys(actor=cast.locksmith, draft=draft)
    with pytest.raises(Conflict, match="are being made"):
        drafted(cast, draft=draft)
    with pytest.raises(Conflict, match="being made already"):
        make_keys(actor=cast.locksmith, draft=draft)
    assert finish(job).state == Job.State.DONE


def test_a_job_of_a_draft_changed_since_makes_nothing(cast: Cast) -> None:
    draft = drafted(cast)
    old = cancel_job(actor=cast.locksmith, job=make_keys(actor=cast.locksmith, draft=draft))
    draft = drafted(cast, draft=draft)
    new = make_keys(actor=cast.locksmith, draft=draft)
    assert finish(resume_job(actor=cast.locksmith, job=old)).state == Job.State.FAILED
    assert not KeySystem.objects.exists()
    assert finish(new).state == Job.State.DONE


def test_who_lost_the_role_meanwhile_makes_no_key(cast: Cast) -> None:
    job = make_keys(actor=cast.locksmith, draft=drafted(cast))
    Membership.objects.filter(user=cast.locksmith).update(role=Role.KEY_DESK)
    assert finish(job).state == Job.State.FAILED
    assert failure_shown_to(cast.locksmith, job).startswith("Locksmith no longer has the role")
    assert not KeySystem.objects.exists()
