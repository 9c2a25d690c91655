"""A part of 0004_kinds_and_states: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="Check",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("ordinal", models.PositiveSmallIntegerField()),
            ("key", models.CharField(max_length=30)),
            ("label", models.CharField(max_length=160)),
            (
                "found",
                models.CharField(
                    choices=[("good", "Good"), ("bad", "Bad"), ("not_applicable", "Does not apply")],
                    max_length=14,
                ),
            ),
        ],
        options={
            "ordering": ["line", "ordinal"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("found__in", ["good", "bad", "not_applicable"])),
                    name="check_finds_something_known",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="KeyTried",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "expected",
                models.CharField(
                    choices=[
                        ("turns", "Turns the core"),
                        ("withdraws", "Takes the core out"),
                        ("nothing", "Does nothing"),
                    ],
                    max_length=9,
                ),
            ),
            (
                "found",
                models.CharField(
                    choices=[
                        ("turns", "Turns the core"),
                        ("withdraws", "Takes the core out"),
                        ("nothing", "Does nothing"),
                    ],
                    max_length=9,
                ),
            ),
        ],
    ),
    migrations.CreateModel(
        name="LockOut",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("asked_by", models.CharField(max_length=120)),
            ("until", models.DateField()),
            ("word", models.CharField(blank=True, max_length=300)),
            ("word_at", models.DateTimeField(null=True)),
        ],
        options={
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("asked_by", ""), _negated=True), name="lock_out_says_who_asked"
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="TryOut",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "outcome",
                models.CharField(
                    choices=[
                        ("good", "Every key did what it should"),
                        ("wrong", "A key did something else"),
                        ("untried", "Left untried"),
                    ],
                    max_length=8,
                ),
            ),
            ("why", models.CharField(blank=True, max_length=300)),
            ("at", models.DateTimeField(default=django.utils.timezone.now)),
        ],
        options={
            "ordering": ["at"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("outcome", "untried"), _negated=True),
                        models.Q(("why", ""), _negated=True),
                        _connector="OR",
                    ),
                    name="core_left_untried_says_why",
                ),
            ],
        },
    ),
    migrations.RemoveConstraint(
        model_name="orderline",
        name="housing_has_at_most_one_open_swap",
    ),
    migrations.RemoveConstraint(
        model_name="orderline",
        name="order_line_done_says_who_and_what",
    ),
    migrations.RemoveConstraint(
        model_name="workorder",
        name="work_order_is_open_or_closed_at_a_time",
    ),
    migrations.AddField(
        model_name="orderline",
        name="door",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="order_lines",
            to="places.door",
        ),
    ),
    migrations.AddField(
        model_name="orderline",
        name="keeps_shut",
        field=models.BooleanField(default=False),
    ),
    migrations.AddField(
        model_name="orderline",
        name="lifted_at",
        field=models.DateTimeField(null=True),
    ),
    migrations.AddField(
        model_name="orderline",
        name="shut_at",
        field=models.DateTimeField(null=True),
    ),
    migrations.AddField(
        model_name="orderline",
        name="system",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="order_lines",
            to="systems.keysystem",
        ),
    ),
    migrations.AddField(
        model_name="orderline",
        name="trying",
        field=models.CharField(
            blank=True,
            choices=[
                ("", "Not asked for"),
                ("owed", "To be tried"),
                ("wrong", "Tried, and something is wrong"),
                ("good", "Tried"),
                ("let_go", "Left untried"),
            ],
            default="",
            max_length=6,
        ),
    ),
    migrations.AddField(
        model_name="orderline",
        name="unreached_at",
        field=models.DateTimeField(null=True),
    ),
    migrations.AddField(
        model_name="orderline",
        name="unreached_why",
        field=models.CharField(blank=True, max_length=200),
    ),
    migrations.AddField(
        model_name="workorder",
        name="arose_from",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="follow_ups",
            to="orders.orderline",
        ),
    ),
    migrations.AddField(
        model_name="workorder",
        name="assigned_to",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="work_orders",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="workorder",
        name="more_to_come",
        field=models.BooleanField(default=False),
    ),
    migrations.AddField(
        model_name="workorder",
        name="part_of",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="parts",
            to="orders.workorder",
        ),
    ),
    migrations.AddField(
        model_name="workorder",
        name="waits_for",
        field=models.CharField(blank=True, max_length=200),
    ),
    migrations.AlterField(
        model_name="workorder",
        name="kind",
        field=models.CharField(
            choices=[
                ("pin", "Pin cores"),
                ("swap", "Swap cores"),
                ("cut", "Cut keys"),
                ("rekey", "Rekey an area"),
                ("decode", "Decode cores"),
                ("recover", "Recover a control key"),
                ("inspect", "Inspect doors"),
                ("lock_out", "Keep doors shut"),
            ],
            max_length=8,
        ),
    ),
    migrations.AlterField(
        model_name="workorder",
        name="state",
        field=models.CharField(
            choices=[
                ("open", "Open"),
                ("under_way", "Under way"),
                ("waiting", "Waiting"),
                ("done", "Done"),
                ("cancelled", "Cancelled"),
            ],
            default="open",
            max_length=10,
        ),
    ),
]
