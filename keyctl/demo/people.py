"""One sign-in per role, with a random password that is printed once."""

import secrets
from dataclasses import dataclass

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.lib.language import in_sentence
from keyctl.places.models import Building, BuildingManager, Membership, Site
from keyctl.places.roles import Role

ROLES = tuple(role for role in Role if role is not Role.INTEGRATION)


@dataclass(frozen=True)
class SignIn:
    role: Role
    username: str
    password: str


def make_people() -> dict[Role, User]:
    """A person per role who cannot sign in until a password is set."""
    return {
        role: User.objects.create_user(role.value, display_name=f"Demo {in_sentence(role.label)}")
        for role in ROLES
    }


def made_people() -> dict[Role, User]:
    by_name = {
        user.username: user for user in User.objects.filter(username__in=[role.value for role in ROLES])
    }
    return {role: by_name[role.value] for role in ROLES}


def grant_roles(site: Site, buildings: list[Building]) -> None:
    people = made_people()
    Membership.objects.bulk_create(
        [Membership(user=user, site=site, role=role) for role, user in people.items()]
    )
    BuildingManager.objects.bulk_create(
        [BuildingManager(building=building, user=people[Role.MANAGER]) for building in buildings]
    )


def nobody_can_sign_in() -> bool:
    return not any(user.has_usable_password() for user in User.objects.filter(username__in=ROLES))


@transaction.atomic
def new_passwords() -> list[SignIn]:
    return [_new_password(User.objects.get(username=role.value), role) for role in ROLES]


def _new_password(user: User, role: Role) -> SignIn:
    password = "-".join(secrets.token_hex(2) for _ in range(4))
    user.set_password(password)
    user.save(update_fields=["password"])
    return SignIn(role, user.username, password)
