"""The first page of one person: for each role they hold its questions, none of them twice."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.start.blocks import Act, Asked, Block, Morning, offered
from keyctl.start.selectors import administrator, auditor, deciding, desk, doors, locksmith, officer, own
from keyctl.start.selectors.beginning import Beginning, beginning

# Who works at doors and at the counter comes first: their day begins at once.
ORDER = (
    Role.LOCKSMITH,
    Role.KEY_DESK,
    Role.MANAGER,
    Role.OFFICER,
    Role.ADMINISTRATOR,
    Role.AUDITOR,
    Role.REQUESTER,
)
HOLDING = frozenset({Role.REQUESTER, Role.INTEGRATION})

# In the order of the page; a question of several roles stands with the first that is held.
QUESTIONS = (
    Asked((Role.LOCKSMITH,), doors.next_doors),
    Asked((Role.LOCKSMITH,), locksmith.bench),
    Asked((Role.LOCKSMITH,), locksmith.disputed),
    Asked((Role.LOCKSMITH,), locksmith.temporary_cores),
    Asked((Role.LOCKSMITH,), locksmith.waves),
    Asked((Role.LOCKSMITH,), locksmith.low_pins),
    Asked((Role.KEY_DESK,), desk.due_back),
    Asked((Role.KEY_DESK,), desk.collections),
    Asked((Role.KEY_DESK,), desk.to_make_ready),
    Asked((Role.KEY_DESK,), desk.leavers),
    Asked((Role.MANAGER, Role.OFFICER), deciding.decisions),
    Asked((Role.MANAGER, Role.OFFICER), deciding.late_requests),
    Asked((Role.MANAGER, Role.OFFICER), deciding.substitutes),
    Asked((Role.KEY_DESK, Role.OFFICER), officer.reports),
    Asked((Role.OFFICER,), officer.losses),
    Asked((Role.OFFICER,), officer.looks),
    Asked((Role.OFFICER, Role.AUDITOR), officer.proof),
    Asked((Role.KEY_DESK, Role.OFFICER), desk.counts),
    Asked((Role.KEY_DESK,), desk.handovers),
    Asked((Role.OFFICER, Role.AUDITOR), officer.differences),
    Asked((Role.OFFICER,), officer.exposure),
    Asked((Role.ADMINISTRATOR,), administrator.imports),
    Asked((Role.ADMINISTRATOR,), administrator.places),
    Asked((Role.ADMINISTRATOR,), administrator.mail),
    Asked((Role.ADMINISTRATOR,), administrator.webhooks),
    Asked((Role.ADMINISTRATOR,), administrator.newcomers),
    Asked((Role.AUDITOR,), auditor.last_counts),
    Asked((Role.AUDITOR,), auditor.looks_taken),
    Asked((Role.AUDITOR,), auditor.entry_points),
    Asked((Role.REQUESTER,), own.to_sign),
    Asked((Role.REQUESTER,), own.keys),
    Asked((Role.REQUESTER,), own.requests),
)


# Where the work of a role is begun; the first of them is the page's own button.
BEGUN = {
    Role.LOCKSMITH: (gettext_lazy("Doors on my way"), "orders:route"),
    Role.KEY_DESK: (gettext_lazy("Open the desk"), "desk:home"),
    Role.REQUESTER: (gettext_lazy("Ask for a key"), "approvals:ask"),
}


@dataclass(frozen=True)
class Part:
    """What one role asks. Of the person's own things, everybody asks."""

    role: Role
    blocks: list[Block]

    @property
    def label(self) -> str:
        return gettext("Your own keys and requests") if self.is_own else str(self.role.label)

    @property
    def is_own(self) -> bool:
        return self.role == Role.REQUESTER


@dataclass(frozen=True)
class FirstPage:
    morning: Morning
    parts: list[Part]
    beginning: Beginning | None

    @property
    def has_several(self) -> bool:
        return len(self.parts) > 1

    @property
    def acts(self) -> list[Act]:
        held = [role for role in BEGUN if role in self.morning.roles or role == Role.REQUESTER]
        return [Act(str(BEGUN[role][0]), reverse(BEGUN[role][1])) for role in held if self.morning.roles]


def first_page(actor: User) -> FirstPage:
    morning = _morning(actor)
    held = [role for role in ORDER if role in morning.roles or role == Role.REQUESTER]
    asked = _by_role(held)
    begins = beginning(morning)
    is_bare = bool(begins and begins.is_bare)
    parts = [_part(morning, role, asked[role], is_bare) for role in held]
    return FirstPage(morning, [part for part in parts if part.blocks], begins)


def _morning(actor: User) -> Morning:
    sites: dict[str, set[UUID]] = {}
    for role, site in Membership.objects.filter(user=actor).values_list("role", "site"):
        sites.setdefault(role, set()).add(site)
    found = {role: frozenset(pks) for role, pks in sites.items()}
    return Morning(actor, timezone.now(), timezone.localdate(), found)


def _by_role(held: list[Role]) -> Mapping[Role, list[Asked]]:
    asked: dict[Role, list[Asked]] = {role: [] for role in held}
    for question in sorted((*QUESTIONS, *offered()), key=lambda question: not question.comes_first):
        first = next((role for role in held if role in question.roles), None)
        if first:
            asked[first].append(question)
    return asked


def _part(morning: Morning, role: Role, asked: Iterable[Asked], is_bare: bool) -> Part:
    """Nothing is told of a site where there is nothing; and whoever works here reads of keys of their own
    only where they have some."""
    blocks = [block for question in asked if (block := question.make(morning))]
    is_besides = role == Role.REQUESTER and not morning.roles <= HOLDING
    return Part(role, [block for block in blocks if block.lines or not (is_bare or is_besides)])
