from tests.api.client import Api, problem
from tests.cast import Cast


def test_a_token_sees_its_own_sites_only(api: Api, cast: Cast) -> None:
    assert api.ids("sites/") == [str(cast.north.pk)]


def test_a_site_has_its_code_and_name(api: Api, cast: Cast) -> None:
    answer = api.get(f"sites/{cast.north.pk}/").json()
    assert answer == {"id": str(cast.north.pk), "code": "NORTH", "name": "North site"}


def test_a_foreign_site_is_not_found(api: Api, cast: Cast) -> None:
    problem(api.get(f"sites/{cast.south.pk}/"), 404, "not-found")


def test_a_site_is_found_by_its_code(api: Api, cast: Cast) -> None:
    assert api.ids("sites/", code="NORTH") == [str(cast.north.pk)]
    assert api.ids("sites/", code="SOUTH") == []
