"""Passkeys in a real browser, with an authenticator that Chromium plays (virtual, by WebDriver's rules)."""

import pytest
from playwright.sync_api import expect
from pytest_django import Settings

from keyctl.audit.models import Event
from keyctl.places.roles import Role
from tests.browser.axe import findings
from tests.browser.conftest import TABLET, Tablet
from tests.browser.test_every_page import LOOKS, faults_of, keep_picture
from tests.factories import make_site, make_user


class Keeper:
    """A device that keeps passkeys, unlocked by its owner or, as a thief has it, not."""

    def __init__(self, tablet: Tablet) -> None:
        self.session = tablet.page.context.new_cdp_session(tablet.page)
        self.session.send("WebAuthn.enable")
        options = {"protocol": "ctap2", "transport": "internal", "automaticPresenceSimulation": True}
        options |= {"hasResidentKey": True, "hasUserVerification": True, "isUserVerified": True}
        made = self.session.send("WebAuthn.addVirtualAuthenticator", {"options": options})
        self.name = made["authenticatorId"]

    def kept(self) -> int:
        found = self.session.send("WebAuthn.getCredentials", {"authenticatorId": self.name})
        return len(found["credentials"])

    def unlock(self, *, is_owner: bool) -> None:
        facts = {"authenticatorId": self.name, "isUserVerified": is_owner}
        self.session.send("WebAuthn.setUserVerified", facts)


@pytest.fixture
def keeper(transactional_db: None, tablet: Tablet, settings: Settings) -> Keeper:
    """A locksmith must have a second factor, and has none yet."""
    settings.SECOND_FACTOR = "forced"
    make_user("locksmith", site=make_site("NORTH"), role=Role.LOCKSMITH)
    return Keeper(tablet)


def press(tablet: Tablet, name: str) -> None:
    with tablet.page.expect_navigation():
        tablet.page.get_by_role("button", name=name).click()
    tablet.wait_until_quiet()


def heading(tablet: Tablet) -> str:
    return tablet.page.get_by_role("heading", level=1).inner_text()


def add_passkey(tablet: Tablet) -> None:
    """Led to it from the first page; the recovery codes come next."""
    tablet.sign_in("locksmith")
    assert heading(tablet) == "Second factors"
    tablet.page.get_by_role("link", name="Add a passkey").click()
    press(tablet, "Make the passkey")
    assert heading(tablet) == "Recovery codes"


def test_one_is_made_lets_in_and_proves_who_one_is(tablet: Tablet, keeper: Keeper) -> None:
    add_passkey(tablet)
    assert keeper.kept() == 1
    press(tablet, "Make and show them")
    assert tablet.page.locator(".recovery-codes li").count() == 10
    keep_picture(tablet, "account-codes-shown-light")
    assert look(tablet, "account/factors") == []
    tablet.page.set_viewport_size(TABLET)
    tablet.sign_out()

    press(tablet, "Sign in with a passkey")
    assert Event.objects.filter(
        verb="account.signed_in", sentence__startswith="signed in by passkey,"
    ).exists()

    tablet.go("/account/prove/?next=/account/sessions/")
    press(tablet, "Use a passkey")
    assert heading(tablet) == "Where you are signed in"
    expect(tablet.page.get_by_text("You have proven who you are")).to_be_visible()
    assert tablet.complaints == []


def test_it_is_the_second_factor_after_a_password(tablet: Tablet, keeper: Keeper) -> None:
    add_passkey(tablet)
    tablet.go("/account/me/")
    tablet.sign_out()
    tablet.sign_in("locksmith")
    assert heading(tablet) == "Now your second factor"
    assert [*faults_of(tablet), *findings(tablet.page)] == []
    keep_picture(tablet, "account-second-factor-light")
    press(tablet, "Use a passkey")
    tablet.go("/account/me/")
    assert heading(tablet) == "Locksmith"


def test_a_device_that_its_owner_did_not_unlock_lets_nobody_in(tablet: Tablet, keeper: Keeper) -> None:
    add_passkey(tablet)
    tablet.go("/account/me/")
    tablet.sign_out()
    keeper.unlock(is_owner=False)
    tablet.page.get_by_role("button", name="Sign in with a passkey").click()
    expect(tablet.page.locator("[data-passkey-says]")).to_contain_text("Nothing was chosen")
    tablet.go("/account/me/")
    assert heading(tablet) == "Sign in to keyctl"


def look(tablet: Tablet, page: str) -> list[str]:
    """In both looks: nothing sticks out, nothing complains, nothing shuts anybody out."""
    tablet.go(f"/{page}/")
    tablet.wait_until_quiet()
    faults = []
    for _, size, theme in LOOKS:
        tablet.page.set_viewport_size(size)
        tablet.page.emulate_media(color_scheme=theme)
        keep_picture(tablet, f"{page.replace('/', '-')}-{theme}")
        faults += [*faults_of(tablet), *findings(tablet.page)]
    return faults
