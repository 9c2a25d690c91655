"""Files that nobody vouches for: each is refused in words or tried to its end, and writes nothing."""

import pytest

from keyctl.imports.models import Import
from keyctl.lib.errors import Refused
from keyctl.places.models import Building
from tests.cast import Cast
from tests.hostile.corpus import hostile_files
from tests.keyctl.imports.files import brought, tried

pytestmark = pytest.mark.django_db

FILES = list(hostile_files("list", 30, salt="imports"))


def test_hostile_files_are_refused_or_tried(cast: Cast) -> None:
    ended = {"refused": 0, "brought": 0}
    for file in FILES:
        try:
            imported = brought(cast.administrator, cast.north, content=file.content)
        except Refused:
            ended["refused"] += 1
            continue
        ended["brought"] += 1
        assert imported.content is not None
        assert file.content[:40] not in bytes(imported.content)
    assert ended["refused"] >= 5, ended
    assert ended["brought"] >= 3, ended
    assert not Building.objects.exists()


@pytest.mark.parametrize("text", ["=1+1", "\u202eA", "A" * 300, "'=1+1", "🚪", "<script>"])
def test_odd_words_are_told_or_kept_as_they_are(cast: Cast, text: str) -> None:
    rows = [["A", "Level 1", "101", text, *[""] * 6]]
    try:
        imported = tried(cast.administrator, cast.north, rows)
    except Refused:
        assert not Import.objects.exists()
        return
    assert Import.objects.get() == imported
    counts = imported.counts["things"]["doors"]
    assert counts["created"] + imported.errors == 1
