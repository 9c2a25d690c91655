"""A part of 0004_kinds_and_states: a migration longer than a page to read is kept in pieces."""

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(
                    ("done_at__isnull", False),
                    ("done_by__isnull", False),
                    ("state", "done"),
                    models.Q(
                        ("core__isnull", False),
                        ("symbol__isnull", False),
                        ("door__isnull", False),
                        ("system__isnull", False),
                        _connector="OR",
                    ),
                ),
                models.Q(
                    models.Q(("state", "done"), _negated=True),
                    ("done_at__isnull", True),
                    ("done_by__isnull", True),
                ),
                _connector="OR",
            ),
            name="order_line_done_says_who_and_what",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("door__isnull", True), ("system__isnull", True)),
                models.Q(
                    models.Q(("door__isnull", True), ("system__isnull", True), _connector="OR"),
                    ("core__isnull", True),
                    ("core_out__isnull", True),
                    ("housing__isnull", True),
                    ("symbol__isnull", True),
                ),
                _connector="OR",
            ),
            name="order_line_of_a_door_or_a_system_is_nothing_else",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("unreached_at__isnull", True), ("unreached_why", "")),
                models.Q(("unreached_at__isnull", False), models.Q(("unreached_why", ""), _negated=True)),
                _connector="OR",
            ),
            name="door_that_was_not_reached_says_why",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(("lifted_at__isnull", True), ("shut_at__isnull", False), _connector="OR"),
            name="only_a_shut_door_is_lifted",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(
                ("shut_at__isnull", True),
                models.Q(("core__isnull", False), ("keeps_shut", True)),
                _connector="OR",
            ),
            name="door_is_shut_by_a_core_in_it",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(("keeps_shut", False), ("housing__isnull", False), _connector="OR"),
            name="only_a_housing_is_kept_shut",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.CheckConstraint(
            condition=models.Q(
                ("trying", ""), models.Q(("core__isnull", False), ("state", "done")), _connector="OR"
            ),
            name="only_a_pinned_core_is_tried",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.UniqueConstraint(
            condition=models.Q(("housing__isnull", False), ("state", "open")),
            fields=("housing", "keeps_shut"),
            name="housing_has_at_most_one_open_swap",
        ),
    ),
    migrations.AddConstraint(
        model_name="orderline",
        constraint=models.UniqueConstraint(
            condition=models.Q(("door__isnull", False)),
            fields=("order", "door"),
            name="door_is_inspected_once_an_order",
        ),
    ),
    migrations.AddConstraint(
        model_name="workorder",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("closed_at__isnull", True), ("state__in", ["open", "under_way", "waiting"])),
                models.Q(("closed_at__isnull", False), ("state__in", ["done", "cancelled"])),
                _connector="OR",
            ),
            name="work_order_is_open_or_closed_at_a_time",
        ),
    ),
    migrations.AddConstraint(
        model_name="workorder",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("state", "waiting"), models.Q(("waits_for", ""), _negated=True)),
                models.Q(models.Q(("state", "waiting"), _negated=True), ("waits_for", "")),
                _connector="OR",
            ),
            name="work_order_that_waits_says_for_what",
        ),
    ),
    migrations.AddConstraint(
        model_name="workorder",
        constraint=models.CheckConstraint(
            condition=models.Q(
                ("part_of__isnull", True), models.Q(("kind", "rekey"), _negated=True), _connector="OR"
            ),
            name="order_of_an_area_is_no_part",
        ),
    ),
    migrations.AddConstraint(
        model_name="workorder",
        constraint=models.CheckConstraint(
            condition=models.Q(("more_to_come", False), ("kind", "rekey"), _connector="OR"),
            name="only_an_area_has_parts_to_come",
        ),
    ),
    migrations.AddField(
        model_name="check",
        name="line",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE, related_name="checks", to="orders.orderline"
        ),
    ),
    migrations.AddField(
        model_name="keytried",
        name="symbol",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="+", to="systems.keysymbol"
        ),
    ),
    migrations.AddField(
        model_name="lockout",
        name="order",
        field=models.OneToOneField(
            on_delete=django.db.models.deletion.CASCADE, related_name="lock_out", to="orders.workorder"
        ),
    ),
    migrations.AddField(
        model_name="lockout",
        name="word_by",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="tryout",
        name="by",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
        ),
    ),
    migrations.AddField(
        model_name="tryout",
        name="line",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE, related_name="try_outs", to="orders.orderline"
        ),
    ),
    migrations.AddField(
        model_name="keytried",
        name="try_out",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE, related_name="keys", to="orders.tryout"
        ),
    ),
    migrations.AddConstraint(
        model_name="check",
        constraint=models.UniqueConstraint(fields=("line", "key"), name="point_is_checked_once_a_line"),
    ),
    migrations.AddConstraint(
        model_name="lockout",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("word", ""), ("word_at__isnull", True), ("word_by__isnull", True)),
                models.Q(
                    models.Q(("word", ""), _negated=True),
                    ("word_at__isnull", False),
                    ("word_by__isnull", False),
                ),
                _connector="OR",
            ),
            name="word_on_a_lock_out_is_somebodys",
        ),
    ),
    migrations.AddConstraint(
        model_name="keytried",
        constraint=models.UniqueConstraint(
            fields=("try_out", "symbol"), name="key_is_tried_once_in_a_try_out"
        ),
    ),
]
