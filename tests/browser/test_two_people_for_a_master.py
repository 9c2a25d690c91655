"""A master that the manager chose waits for a security officer, who sees what it opens and decides."""

from collections.abc import Callable

from playwright.sync_api import expect

from keyctl.approvals.models import KeyRequest, Step
from tests.browser.conftest import Tablet


def test_an_officer_decides_after_the_manager(estate: None, open_tablet: Callable[..., Tablet]) -> None:
    step = Step.objects.get(request__state="asked", who="officer", state="waiting")
    manager = open_tablet()
    manager.sign_in("manager")
    manager.go(f"/requests/{step.request_id}/")
    expect(manager.page.get_by_role("button", name="Approve these keys")).to_have_count(0)
    expect(manager.page.locator("main")).to_contain_text("It takes two people")

    officer = open_tablet()
    officer.sign_in("officer")
    officer.go("/requests/decisions/")
    officer.page.get_by_role("link", name=str(step.request.building)).first.click()
    expect(officer.page.get_by_text("Beyond those asked").first).to_be_visible()
    officer.page.get_by_role("button", name="Approve these keys").click()
    expect(officer.page.locator("main")).to_contain_text("Approved. The keys are being made ready.")

    decided = KeyRequest.objects.get(pk=step.request_id)
    people = [str(each.decided_by) for each in decided.steps.order_by("ordinal")]
    assert people == ["Demo manager", "Demo security officer"]
    assert [manager.complaints, officer.complaints] == [[], []]


def test_a_manager_names_a_substitute_before_going_away(estate: None, tablet: Tablet) -> None:
    tablet.sign_in("manager")
    tablet.go("/requests/substitutes/")
    tablet.page.locator("summary", has_text="Name a substitute").click()
    tablet.page.get_by_role("link", name="Name a substitute at North Hill").click()
    tablet.page.get_by_label("Who decides in their place").select_option(label="Demo deputy manager")
    tablet.page.get_by_label("First day").fill("2099-03-01")
    tablet.page.get_by_label("Last day").fill("2099-03-14")
    tablet.page.get_by_role("button", name="Name the substitute").click()
    expect(tablet.page.locator("main")).to_contain_text("To come")
    assert tablet.complaints == []
