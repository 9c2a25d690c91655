"""The page that shows the description."""

from django.test import Client


def policy() -> dict[str, str]:
    text = Client().get("/api/v1/docs/")["Content-Security-Policy"]
    return dict(part.strip().split(" ", 1) for part in text.split(";"))


def test_it_is_readable_without_a_token(db: None) -> None:
    assert Client().get("/api/v1/docs/").status_code == 200


def test_its_script_is_a_file_of_its_own(db: None) -> None:
    page = Client().get("/api/v1/docs/").content.decode()
    assert page.count("<script src=") == page.count("<script") == 2
    assert "style=" not in page
    script = Client().get("/api/v1/docs/?script=")
    assert script["Content-Type"].startswith("application/javascript")


def test_scripts_come_from_this_host_only(db: None) -> None:
    assert policy()["script-src"] == "'self'"
