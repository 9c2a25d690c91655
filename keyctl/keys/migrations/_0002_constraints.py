"""A part of 0002_handovers: a migration longer than a page to read is kept in pieces."""

import django.db.models.deletion
import django.db.models.functions.text
import django.utils.timezone
from django.db import migrations, models

OPERATIONS = [
    migrations.RemoveField(
        model_name="custody",
        name="due_on",
    ),
    migrations.RemoveField(
        model_name="custody",
        name="signed_as",
    ),
    migrations.AlterField(
        model_name="custody",
        name="out_act",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="lines_out", to="keys.handover"
        ),
    ),
    migrations.AddConstraint(
        model_name="keycopy",
        constraint=models.UniqueConstraint(
            condition=models.Q(("stamp", ""), _negated=True),
            fields=("site", "stamp"),
            name="key_copy_stamp_is_unique_at_its_site",
        ),
    ),
    migrations.AddConstraint(
        model_name="keycopy",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(
                    ("cabinet__isnull", True),
                    ("custody__isnull", False),
                    ("holder__isnull", False),
                    ("state", "held"),
                ),
                models.Q(
                    ("cabinet__isnull", False),
                    ("custody__isnull", True),
                    ("holder__isnull", True),
                    ("state", "in-cabinet"),
                ),
                models.Q(
                    ("cabinet__isnull", True),
                    ("custody__isnull", True),
                    ("holder__isnull", True),
                    ("state__in", ["lost", "destroyed"]),
                ),
                _connector="OR",
            ),
            name="key_copy_is_in_exactly_one_state",
        ),
    ),
    migrations.AddIndex(
        model_name="custody",
        # Keys overdue: the desk, the reminders and the first page.
        index=models.Index(
            condition=models.Q(("ended_at__isnull", True)), fields=["due_at"], name="custody_out_by_due"
        ),
    ),
    migrations.AddIndex(
        model_name="custody",
        # What a holder has, and had.
        index=models.Index(fields=["holder", "ended_at"], name="custody_of_holder"),
    ),
    migrations.AddConstraint(
        model_name="custody",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("ended_at__isnull", True), ("ended_by__isnull", True), ("ending", "")),
                models.Q(
                    ("ended_at__isnull", False),
                    ("ended_by__isnull", False),
                    models.Q(("ending", ""), _negated=True),
                ),
                _connector="OR",
            ),
            name="custody_end_says_who",
        ),
    ),
    migrations.AddConstraint(
        model_name="custody",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("back_act__isnull", True), ("ending__in", ["", "lost"])),
                models.Q(("back_act__isnull", False), ("ending__in", ["returned", "transferred"])),
                _connector="OR",
            ),
            name="custody_comes_back_by_an_act",
        ),
    ),
    migrations.AddConstraint(
        model_name="holder",
        constraint=models.UniqueConstraint(
            condition=models.Q(("person__isnull", False)),
            fields=("site", "person"),
            name="holder_stands_for_a_person_once_a_site",
        ),
    ),
    migrations.AddConstraint(
        model_name="deposit",
        constraint=models.CheckConstraint(
            condition=models.Q(("amount__gt", 0)), name="deposit_is_some_money"
        ),
    ),
    migrations.AddConstraint(
        model_name="deposit",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("settled_at__isnull", True), ("settled_by__isnull", True), ("state", "taken")),
                models.Q(
                    ("settled_at__isnull", False),
                    ("settled_by__isnull", False),
                    ("state__in", ["given-back", "kept"]),
                ),
                _connector="OR",
            ),
            name="deposit_that_is_settled_says_by_whom",
        ),
    ),
    migrations.AddConstraint(
        model_name="deposit",
        constraint=models.CheckConstraint(
            condition=models.Q(("reason", ""), ("state", "kept"), _negated=True),
            name="deposit_that_is_kept_says_why",
        ),
    ),
    migrations.AddConstraint(
        model_name="person",
        constraint=models.UniqueConstraint(
            django.db.models.functions.text.Lower("user_name"),
            condition=models.Q(("user_name", ""), _negated=True),
            name="person_user_name_is_unique",
        ),
    ),
    migrations.AddConstraint(
        model_name="person",
        constraint=models.UniqueConstraint(
            condition=models.Q(("external_id", ""), _negated=True),
            fields=("external_id",),
            name="person_external_id_is_unique",
        ),
    ),
    migrations.AddConstraint(
        model_name="person",
        constraint=models.UniqueConstraint(
            condition=models.Q(("user__isnull", False)),
            fields=("user",),
            name="person_stands_for_a_user_once",
        ),
    ),
    migrations.AddConstraint(
        model_name="terms",
        constraint=models.UniqueConstraint(
            fields=("site", "number"), name="terms_number_is_unique_at_its_site"
        ),
    ),
    migrations.AddConstraint(
        model_name="terms",
        constraint=models.CheckConstraint(
            condition=models.Q(("text", ""), _negated=True), name="terms_have_a_text"
        ),
    ),
    migrations.AddConstraint(
        model_name="handover",
        constraint=models.UniqueConstraint(
            fields=("site", "number"), name="handover_number_is_unique_at_its_site"
        ),
    ),
    migrations.AddConstraint(
        model_name="handover",
        constraint=models.CheckConstraint(
            condition=models.Q(("way", "back"), ("holder__isnull", False), _connector="OR"),
            name="handover_says_who_took_the_keys",
        ),
    ),
    migrations.AddConstraint(
        model_name="handover",
        constraint=models.CheckConstraint(
            condition=models.Q(("way", "back"), ("sign_way__in", ["drawn", "typed"]), _connector="OR"),
            name="handover_is_signed_by_who_takes_keys",
        ),
    ),
    migrations.AddConstraint(
        model_name="handover",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("sign_way", "drawn"), ("signature__isnull", False)),
                models.Q(
                    ("sign_way", "typed"),
                    ("signature__isnull", True),
                    models.Q(("signed_as", ""), _negated=True),
                ),
                models.Q(("sign_way", "none"), ("signature__isnull", True)),
                _connector="OR",
            ),
            name="handover_signature_is_as_it_says",
        ),
    ),
    migrations.AddConstraint(
        model_name="desksettings",
        constraint=models.CheckConstraint(
            condition=models.Q(("currency", ""), _negated=True),
            name="desk_settings_name_a_currency",
        ),
    ),
]
