"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="Rotation",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.PositiveIntegerField()),
            ("title", models.CharField(max_length=120)),
            (
                "state",
                models.CharField(
                    choices=[
                        ("planned", "Being planned"),
                        ("working", "Under way"),
                        ("paused", "Paused"),
                        ("done", "Done"),
                        ("cancelled", "Cancelled"),
                    ],
                    default="planned",
                    max_length=10,
                ),
            ),
            ("allowed_days", models.PositiveSmallIntegerField(null=True)),
            ("people", models.PositiveSmallIntegerField(default=1)),
            ("hours_a_day", models.PositiveSmallIntegerField(default=7)),
            ("bench_minutes", models.PositiveSmallIntegerField(default=8)),
            ("planned_at", models.DateTimeField(null=True)),
            ("visits", models.PositiveIntegerField(default=0)),
            ("fewest_visits", models.PositiveIntegerField(default=0)),
            ("plan_words", models.CharField(blank=True, max_length=400)),
            ("plan_version", models.PositiveIntegerField(default=1)),
            ("started_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("ended_at", models.DateTimeField(null=True)),
            ("outcome", models.CharField(blank=True, max_length=400)),
            ("version", models.PositiveIntegerField(default=1)),
            (
                "ended_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="rotations",
                    to="places.site",
                ),
            ),
            (
                "started_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "umbrella",
                models.OneToOneField(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="rotation",
                    to="orders.workorder",
                ),
            ),
        ],
        options={
            "ordering": ["-number"],
            "indexes": [
                # The list of rotations at a site, newest first.
                models.Index(fields=["site", "state", "-number"], name="rotation_by_state"),
            ],
            "constraints": [
                models.UniqueConstraint(fields=("number",), name="rotation_number_is_unique"),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("state", "planned"), ("umbrella__isnull", True)),
                        models.Q(("state__in", ["working", "paused", "done"]), ("umbrella__isnull", False)),
                        ("state", "cancelled"),
                        _connector="OR",
                    ),
                    name="rotation_has_an_order_once_it_is_accepted",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("ended_at__isnull", True),
                            ("ended_by__isnull", True),
                            ("state__in", ["planned", "working", "paused"]),
                        ),
                        models.Q(
                            ("ended_at__isnull", False),
                            ("ended_by__isnull", False),
                            ("state__in", ["done", "cancelled"]),
                            models.Q(("outcome", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="rotation_end_says_who_and_how",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("people__gte", 1),
                        ("people__lte", 50),
                        ("hours_a_day__gte", 1),
                        ("hours_a_day__lte", 24),
                    ),
                    name="rotation_has_a_crew_that_works",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("allowed_days__isnull", True), ("allowed_days__gte", 1), _connector="OR"
                    ),
                    name="rotation_allows_a_day_at_least",
                ),
                models.CheckConstraint(
                    condition=models.Q(("fewest_visits__lte", models.F("visits"))),
                    name="rotation_plan_is_not_below_its_bound",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="RotationDoor",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("format_id", models.CharField(max_length=40)),
            (
                "state",
                models.CharField(
                    choices=[
                        ("waiting", "To do"),
                        ("unreached", "Not reached"),
                        ("swapped", "Done"),
                        ("left_out", "Left out"),
                    ],
                    default="waiting",
                    max_length=10,
                ),
            ),
            ("together", models.CharField(blank=True, max_length=60)),
            ("swapped_at", models.DateTimeField(null=True)),
            ("reason", models.CharField(blank=True, max_length=200)),
            ("is_running", models.BooleanField(default=True)),
            (
                "core_in",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="cores.core",
                ),
            ),
            (
                "core_out",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="cores.core",
                ),
            ),
            (
                "housing",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="rotations",
                    to="places.housing",
                ),
            ),
            (
                "meant",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="cores.core",
                ),
            ),
            (
                "rotation",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="doors",
                    to="rotations.rotation",
                ),
            ),
        ],
        options={
            "ordering": [
                "rotation",
                "housing__door__floor__building__code",
                "housing__door__floor__level",
                "housing__door__number",
                "pk",
            ],
            "indexes": [
                # The doors of a rotation that are still to be done.
                models.Index(fields=["rotation", "state"], name="rotation_door_by_state"),
            ],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("is_running", True)),
                    fields=("housing",),
                    name="housing_is_in_one_running_rotation",
                ),
                models.UniqueConstraint(fields=("rotation", "housing"), name="rotation_names_a_housing_once"),
                models.UniqueConstraint(
                    condition=models.Q(
                        ("is_running", True),
                        ("meant__isnull", False),
                        ("state__in", ["waiting", "unreached"]),
                    ),
                    fields=("meant",),
                    name="rotation_means_a_core_for_one_door",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("core_in__isnull", False),
                            ("state", "swapped"),
                            ("swapped_at__isnull", False),
                        ),
                        models.Q(models.Q(("state", "swapped"), _negated=True), ("swapped_at__isnull", True)),
                        _connector="OR",
                    ),
                    name="rotation_door_done_says_when_and_what",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("state__in", ["unreached", "left_out"]), _negated=True),
                        models.Q(("reason", ""), _negated=True),
                        _connector="OR",
                    ),
                    name="rotation_door_not_done_says_why",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="RotationCore",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "state",
                models.CharField(
                    choices=[
                        ("free", "At hand"),
                        ("set_aside", "For a door"),
                        ("in_door", "In a door"),
                        ("coming_back", "To bring back"),
                        ("broken", "Broken or missing"),
                    ],
                    default="free",
                    max_length=12,
                ),
            ),
            ("back_at", models.DateTimeField(null=True)),
            ("note", models.CharField(blank=True, max_length=200)),
            ("is_running", models.BooleanField(default=True)),
            (
                "core",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="rotations", to="cores.core"
                ),
            ),
            (
                "rotation",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="cores",
                    to="rotations.rotation",
                ),
            ),
            (
                "came_from",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="came_out",
                    to="rotations.rotationdoor",
                ),
            ),
        ],
        options={
            "ordering": ["rotation", "core__tag"],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("is_running", True)),
                    fields=("core",),
                    name="core_goes_round_in_one_rotation",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("state", "broken"), _negated=True),
                        models.Q(("note", ""), _negated=True),
                        _connector="OR",
                    ),
                    name="core_out_of_a_rotation_says_why",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("state", "coming_back"), _negated=True),
                        ("back_at__isnull", True),
                        _connector="OR",
                    ),
                    name="core_to_bring_back_is_not_back",
                ),
            ],
        },
    ),
]
