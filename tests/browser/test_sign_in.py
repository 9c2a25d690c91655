"""Signing in and out in a real browser, which is stricter than the test client about cookies and origins."""

from playwright.sync_api import expect

from tests.browser.conftest import Tablet


def test_a_locksmith_signs_in_and_sees_the_day(estate: None, tablet: Tablet) -> None:
    tablet.sign_in("locksmith")
    expect(tablet.page.get_by_role("heading", level=1)).to_contain_text("Today")
    assert tablet.complaints == []


def test_a_wrong_password_is_told_and_keeps_the_name(estate: None, tablet: Tablet) -> None:
    tablet.go("/account/sign-in/")
    tablet.page.get_by_label("Username").fill("locksmith")
    tablet.page.get_by_label("Password").fill("not the password")
    tablet.page.get_by_role("button", name="Sign in", exact=True).click()
    expect(tablet.page.get_by_label("Username")).to_have_value("locksmith")
    expect(tablet.page.locator("main")).to_contain_text("correct")


def test_after_signing_out_the_estate_is_closed(estate: None, tablet: Tablet) -> None:
    tablet.sign_in("locksmith")
    tablet.sign_out()
    tablet.go("/estate/")
    expect(tablet.page.get_by_label("Username")).to_be_visible()
