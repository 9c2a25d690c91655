"""Writing rules and naming substitutes: who may, what is refused, and the pages."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.approvals import services
from keyctl.approvals.models import ApprovalRule, Substitute
from keyctl.approvals.ruling import rules_of
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate, page, post, statuses
from tests.keyctl.keys.keyroom import count_queries

TODAY = timezone.localdate()


def a_rule(cast: Cast, **facts: Any) -> ApprovalRule:
    defaults: dict[str, Any] = {"when": "top", "who": "officer", "silent_hours": 24}
    facts = defaults | facts
    return services.add_rule(actor=cast.administrator, site=cast.north, **facts)


def a_substitute(cast: Cast, **facts: Any) -> Substitute:
    defaults: dict[str, Any] = {"person": cast.manager, "since": TODAY, "until": TODAY}
    facts = defaults | {"actor": cast.administrator} | facts
    facts.setdefault("stands_in", factories.make_user(site=cast.north, role=Role.MANAGER))
    return services.name_substitute(site=cast.north, **facts)


def test_the_first_rule_of_a_site_writes_the_starting_set_down_before_it(cast: Cast) -> None:
    before = rules_of(cast.north)
    a_rule(cast)
    assert rules_of(cast.north)[:-1] == before
    assert rules_of(cast.north)[-1].when == "top"
    assert rules_of(cast.south) == before


def test_officers_are_mailed_what_changed(cast: Cast) -> None:
    a_rule(cast)
    notice = Notice.objects.get(kind="requests.rules_changed")
    assert notice.name == "Officer"
    assert "added an approval rule: One of the keys is a top key: a security officer" in notice.body


def test_history_tells_every_change(cast: Cast) -> None:
    rule = a_rule(cast)
    services.move_rule_up(actor=cast.administrator, rule=rule)
    facts: dict[str, Any] = {"when": "extra", "extra": 7, "level": None, "door_class": "", "who": "officer"}
    services.change_rule(actor=cast.administrator, rule=rule, silent_hours=9, is_apart=True, **facts)
    services.remove_rule(actor=cast.administrator, rule=rule)
    verbs = [event.verb for event in history_of(cast.north)]
    assert verbs[:4] == [f"approval_rule.{verb}" for verb in ("removed", "changed", "moved", "added")]


def test_a_rule_moves_before_the_one_above_it(cast: Cast) -> None:
    rule = a_rule(cast)
    for place in (3, 2, 1):
        services.move_rule_up(actor=cast.administrator, rule=rule)
        order = list(cast.north.approval_rules.values_list("pk", flat=True))
        assert order.index(rule.pk) == place
    with pytest.raises(Refused, match="is the first already"):
        services.move_rule_up(actor=cast.administrator, rule=rule)


def test_that_the_buildings_people_decide_first_stays(cast: Cast) -> None:
    services.write_rules_down(actor=cast.administrator, site=cast.north)
    first = cast.north.approval_rules.get(when="always")
    with pytest.raises(Refused, match=r"always decide first\. Change after how many hours"):
        services.remove_rule(actor=cast.administrator, rule=first)
    changed = services.change_rule(actor=cast.administrator, rule=first, silent_hours=5)
    assert (changed.when, changed.who, changed.silent_hours) == ("always", "building", 5)


def test_a_rule_that_somebody_removed_meanwhile_is_told_so(cast: Cast) -> None:
    rule = a_rule(cast)
    services.remove_rule(actor=cast.administrator, rule=ApprovalRule.objects.get(pk=rule.pk))
    with pytest.raises(Conflict, match="was removed meanwhile"):
        services.move_rule_up(actor=cast.administrator, rule=rule)


def test_rules_are_written_down_once(cast: Cast) -> None:
    services.write_rules_down(actor=cast.administrator, site=cast.north)
    with pytest.raises(Conflict, match="has rules of its own already"):
        services.write_rules_down(actor=cast.administrator, site=cast.north)


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"when": "level"}, "Say the level"),
        ({"when": "top", "level": 1}, "Say the level"),
        ({"when": "door-class"}, "Say the class of doors"),
        ({"when": "extra"}, "Say how many doors"),
        ({"silent_hours": 0}, "after 1 to 720 hours"),
        ({"who": "named"}, "Name the people"),
    ],
)
def test_a_rule_says_all_it_needs_and_no_more(cast: Cast, facts: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words):
        a_rule(cast, **facts)


def test_only_people_who_work_at_the_site_are_named(cast: Cast) -> None:
    for person in (cast.stranger, cast.requester):
        with pytest.raises(Refused, match=f"{person} does not work at North site"):
            a_rule(cast, who="named", people=[person])
    assert a_rule(cast, who="named", people=[cast.auditor]).people.get() == cast.auditor


def test_a_program_decides_about_no_key(cast: Cast, client: Client) -> None:
    program = factories.make_user("program", site=cast.north, role=Role.INTEGRATION)
    with pytest.raises(Refused, match="Program does not work at North site"):
        a_rule(cast, who="named", people=[program])
    assert "Program" not in page(client, cast.administrator, "rule-add", cast.north.pk)


def test_only_administrators_of_the_site_write_rules(cast: Cast) -> None:
    rule = a_rule(cast)
    for name in ("rule-change", "rule-add"):
        pk = rule.pk if name == "rule-change" else cast.north.pk
        people = dict.fromkeys(cast.everybody, 403) | {"administrator": 200, "stranger": 404}
        assert statuses(cast, name, pk) == people
    for actor, error in ((cast.officer, PermissionDenied), (cast.stranger, Http404)):
        with pytest.raises(error):
            services.remove_rule(actor=actor, rule=rule)


def test_who_reads_the_rules(cast: Cast, client: Client) -> None:
    found = {}
    for person, user in cast.everybody.items():
        client.force_login(user)
        found[person] = client.get(reverse("approvals:rules")).status_code
    readers = dict.fromkeys(("manager", "officer", "auditor", "administrator"), 200)
    assert found == dict.fromkeys(cast.everybody, 403) | readers


def test_the_page_adds_a_rule_and_keeps_what_was_refused(cast: Cast, client: Client) -> None:
    facts: dict[str, Any] = {"when": "level", "who": "named", "people": [cast.auditor.pk], "silent_hours": 12}
    response = post(client, cast.administrator, "rule-add", cast.north.pk, **facts)
    assert response.status_code == 422
    assert "Say the level" in response.content.decode()
    assert post(client, cast.administrator, "rule-add", cast.north.pk, **facts, level=1).status_code == 302
    text = page(client, cast.administrator, "rules")
    assert "One of the keys is a master key at level 1 or above" in text
    assert "Named people: Auditor" in text


def test_the_rules_page_names_buildings_for_which_nobody_is_named(estate: Estate, client: Client) -> None:
    text = page(client, estate.cast.administrator, "rules")
    assert f"Nobody is named for {estate.other_floor.building}" in text
    assert str(estate.building) not in text


def test_the_rules_page_takes_as_many_queries_for_many_rules(cast: Cast, client: Client) -> None:
    client.force_login(cast.administrator)
    a_rule(cast, who="named", people=[cast.auditor])
    few = count_queries(client, reverse("approvals:rules"))
    for extra in range(5):
        a_rule(cast, when="extra", extra=extra + 1, who="named", people=[cast.auditor, cast.officer])
    assert count_queries(client, reverse("approvals:rules")) == few


def test_a_manager_names_their_own_substitute_and_nobody_elses(cast: Cast) -> None:
    other = factories.make_user("other", site=cast.north, role=Role.MANAGER)
    assert a_substitute(cast, actor=cast.manager, stands_in=other).named_by == cast.manager
    with pytest.raises(PermissionDenied):
        a_substitute(cast, actor=other, stands_in=other)


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"since": TODAY + timedelta(days=1)}, "The last day is before the first"),
        ({"since": TODAY - timedelta(days=9), "until": TODAY - timedelta(days=1)}, "is past"),
        ({"until": TODAY + timedelta(days=400)}, "a year at most"),
    ],
)
def test_the_days_are_in_order_and_not_past(cast: Cast, facts: dict[str, Any], words: str) -> None:
    with pytest.raises(Refused, match=words):
        a_substitute(cast, **facts)


def test_a_substitute_holds_the_role_at_the_site(cast: Cast) -> None:
    for other in (cast.desk, cast.stranger, cast.requester):
        with pytest.raises(Refused, match=f"{other} does not hold the role that Manager decides with"):
            a_substitute(cast, stands_in=other)
    with pytest.raises(Refused, match="Nobody stands in for themselves"):
        a_substitute(cast, stands_in=cast.manager)
    with pytest.raises(Refused, match="Requester decides nothing at North site"):
        a_substitute(cast, person=cast.requester)


def test_a_building_of_another_site_is_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="is not at North site"):
        a_substitute(cast, building=factories.make_floor(cast.south).building)


def test_a_substitution_is_ended_once(cast: Cast) -> None:
    row = a_substitute(cast)
    ended = services.end_substitute(actor=cast.manager, substitute=row)
    assert (ended.ended_by, history_of(row)[0].verb) == (cast.manager, "substitute.ended")
    with pytest.raises(Conflict, match="Manager already ended this substitution"):
        services.end_substitute(actor=cast.administrator, substitute=row)


def test_who_may_end_a_substitution(cast: Cast) -> None:
    people = dict.fromkeys(cast.everybody, 403) | {"stranger": 404}
    people |= {"manager": 302}
    row = a_substitute(cast)
    found = statuses(cast, "substitute-end", row.pk, "post")
    # The manager ended it; the administrator, asked after them, was told so.
    assert found == people | {"administrator": found["administrator"]}
    assert found["administrator"] not in {403, 404}


def test_who_may_name_a_substitute(cast: Cast) -> None:
    allowed = dict.fromkeys(("manager", "officer", "administrator"), 200)
    people = dict.fromkeys(cast.everybody, 403) | allowed | {"stranger": 404}
    assert statuses(cast, "substitute-name", cast.north.pk) == people


def test_the_page_names_a_substitute(cast: Cast, client: Client) -> None:
    other = factories.make_user("other", site=cast.north, role=Role.MANAGER)
    facts = {"stands_in": other.pk, "since": TODAY, "until": TODAY}
    assert post(client, cast.manager, "substitute-name", cast.north.pk, **facts).status_code == 302
    row = Substitute.objects.get()
    assert (row.person, row.stands_in, row.building) == (cast.manager, other, None)
    assert "Other" in page(client, cast.manager, "substitutes")
    assert "Other" not in page(client, cast.officer, "substitutes")


def test_decisions_that_wait_show_age_and_silence(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    since = timezone.now() - timedelta(days=3, hours=1)
    request.steps.update(since=since, told="reminded")
    own = page(client, estate.cast.manager, "decisions")
    assert "Waiting for you" in own
    assert "3\xa0days" in own
    assert "Reminded" in own
    others = page(client, estate.cast.administrator, "decisions")
    assert "Waiting for others" in others
    assert '<td data-label="Waits for">Manager</td>' in others
    for nobody in (estate.cast.requester, estate.cast.stranger):
        assert str(estate.building) not in page(client, nobody, "decisions")


def test_the_decisions_page_takes_as_many_queries_for_many(estate: Estate, client: Client) -> None:
    client.force_login(estate.cast.administrator)
    counts = []
    for _ in range(2):
        for _ in range(4):
            estate.ask(factories.make_door(floor=estate.floor))
        counts.append(count_queries(client, reverse("approvals:decisions")))
    assert counts[0] == counts[1]
