"""What an entry of history names, as rows for many at once."""

from keyctl.audit.services import new_event, subjects_of
from tests import factories
from tests.cast import Cast


def test_each_thing_is_named_once(cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    event = new_event(actor=cast.locksmith, verb="place.seen", sentence="saw it", site_id=cast.north.pk)
    assert [row.subject_id for row in subjects_of(event, [floor, floor])] == [floor.pk]
