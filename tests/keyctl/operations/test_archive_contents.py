"""Which tables an archive of the estate carries and which it leaves; `FORMAT.md` says the same."""

from pathlib import Path

from django.db import models

from keyctl.operations.archive import contents
from keyctl.operations.archive.contents import carried_tables, why_left_out
from keyctl.operations.backup.tables import all_tables, kept_tables


class TestWhatIsCarried:
    def test_what_stays_out_is_this_and_no_more(self) -> None:
        """Said in FORMAT.md; whatever is new is carried."""
        out = {table.name for table in kept_tables() if why_left_out(table)}
        apps = {table.model._meta.app_label for table in kept_tables() if table.name in out}
        assert apps == {
            "account",
            "api",
            "auth",
            "contenttypes",
            "desk",
            "django_tasks_database",
            "jobs",
            "mfa",
            "operations",
            "socialaccount",
            "vault",
        } | ({"feed", "webhooks"} & apps)
        assert {name for name in out if name.startswith(("desk_", "operations_"))} == {
            "desk_calendarfeed",
            "operations_estatecheck",
            *({"operations_estatearchivefile"} & out),
        }
        carried = {each.table.name for each in carried_tables()}
        left = {table.name for table in all_tables()} - {table.name for table in kept_tables()}
        assert carried | out | left == {table.name for table in all_tables()}

    def test_what_points_at_a_row_left_behind_can_do_without(self) -> None:
        names = {each.table.name for each in carried_tables()}
        for each in carried_tables():
            for field in each.table.fields:
                if isinstance(field, models.ForeignKey) and field.related_model._meta.db_table not in names:
                    assert field.null, f"{each.table.name}.{field.column}"

    def test_every_withheld_column_is_there(self) -> None:
        columns = {(each.table.name, name) for each in carried_tables() for name in each.table.names}
        assert set(contents.WITHHELD) <= columns

    def test_the_format_is_described_with_what_stays_out(self) -> None:
        text = (Path(contents.__file__).parent / "FORMAT.md").read_text()
        for name in {
            *contents.LEFT_OUT_APPS,
            *contents.LEFT_OUT_TABLES,
            *(f"{t}.{c}" for t, c in contents.WITHHELD),
        }:
            assert f"`{name}`" in text
        for words in ("argon2id", "STREAM", "NFC", "digest_key", "history_key", "checkpoint", "end"):
            assert words in text
