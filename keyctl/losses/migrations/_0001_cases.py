"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="LossCase",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.PositiveIntegerField()),
            (
                "state",
                models.CharField(
                    choices=[
                        ("open", "Open"),
                        ("planned", "Plan chosen"),
                        ("working", "Being rekeyed"),
                        ("proven", "Proven"),
                        ("closed", "Closed"),
                        ("cancelled", "Cancelled"),
                    ],
                    default="open",
                    max_length=10,
                ),
            ),
            ("note", models.CharField(blank=True, max_length=400)),
            ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("has_master", models.BooleanField(default=False)),
            ("look", models.PositiveIntegerField(default=0)),
            ("looked_at", models.DateTimeField(null=True)),
            ("figures", models.JSONField(default=dict)),
            ("closed_at", models.DateTimeField(null=True)),
            ("outcome", models.CharField(blank=True, max_length=400)),
            ("version", models.PositiveIntegerField(default=1)),
            (
                "closed_by",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "opened_by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="loss_cases",
                    to="places.site",
                ),
            ),
        ],
        options={
            "ordering": ["-number"],
            "indexes": [
                # The list of losses at a site, newest first.
                models.Index(fields=["site", "state", "-number"], name="loss_case_by_state"),
            ],
            "constraints": [
                models.UniqueConstraint(fields=("number",), name="loss_case_number_is_unique"),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("closed_at__isnull", True),
                            ("closed_by__isnull", True),
                            ("outcome", ""),
                            ("state__in", ["open", "planned", "working", "proven"]),
                        ),
                        models.Q(
                            ("closed_at__isnull", False),
                            ("closed_by__isnull", False),
                            ("state__in", ["closed", "cancelled"]),
                            models.Q(("outcome", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="loss_case_end_says_who_and_why",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("has_master", False),
                        ("closed_by__isnull", True),
                        models.Q(("closed_by", models.F("opened_by")), _negated=True),
                        _connector="OR",
                    ),
                    name="loss_of_a_master_is_closed_by_another_person",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("look", 0), ("looked_at__isnull", True)),
                        models.Q(("look__gt", 0), ("looked_at__isnull", False)),
                        _connector="OR",
                    ),
                    name="loss_case_look_says_when",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CaseNote",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "kind",
                models.CharField(
                    choices=[("note", "Note"), ("told", "Told"), ("called", "Called")],
                    default="note",
                    max_length=6,
                ),
            ),
            ("text", models.CharField(max_length=400)),
            ("at", models.DateTimeField(default=django.utils.timezone.now)),
            (
                "by",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "holder",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="keys.holder",
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="notes",
                    to="losses.losscase",
                ),
            ),
        ],
        options={
            "ordering": ["at", "pk"],
            "constraints": [
                models.CheckConstraint(
                    condition=models.Q(("text", ""), _negated=True), name="loss_note_says_something"
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("holder__isnull", False), ("kind", "called")),
                        models.Q(models.Q(("kind", "called"), _negated=True), ("holder__isnull", True)),
                        _connector="OR",
                    ),
                    name="loss_note_of_a_call_names_the_holder",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="CaseDoor",
        fields=[
            (
                "id",
                models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID"),
            ),
            ("look", models.PositiveIntegerField()),
            ("ordinal", models.PositiveIntegerField()),
            (
                "door_class",
                models.CharField(
                    blank=True,
                    choices=[
                        ("ordinary", "Ordinary"),
                        ("restricted", "Restricted"),
                        ("critical", "Critical"),
                    ],
                    max_length=12,
                ),
            ),
            (
                "route",
                models.CharField(
                    choices=[
                        ("own", "Its own key"),
                        ("cross", "Cross-keyed"),
                        ("master", "A master above it"),
                        ("control", "Its control key"),
                        ("incidental", "Not meant by the plan"),
                    ],
                    max_length=10,
                ),
            ),
            ("operates", models.BooleanField()),
            ("withdraws", models.BooleanField()),
            ("keys", models.PositiveSmallIntegerField(default=1)),
            ("lost", models.PositiveIntegerField(default=0)),
            ("cut", models.PositiveIntegerField(default=0)),
            ("share_lost", models.PositiveSmallIntegerField(default=0)),
            ("share_due", models.PositiveSmallIntegerField(default=0)),
            ("is_due", models.BooleanField()),
            (
                "why",
                models.CharField(
                    choices=[
                        ("master", "A lost master, control key, or key that takes the core out suffices"),
                        ("critical", "One copy suffices here"),
                        ("share", "The share of lost copies is reached"),
                        ("below", "The share is below the limit"),
                        ("found", "The key is found"),
                        ("no-door", "Not in a door"),
                    ],
                    max_length=8,
                ),
            ),
            (
                "state",
                models.CharField(
                    choices=[("exposed", "Exposed"), ("cleared", "Cleared")],
                    default="exposed",
                    max_length=8,
                ),
            ),
            (
                "building",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to="places.building",
                ),
            ),
            (
                "core",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="losses", to="cores.core"
                ),
            ),
            (
                "door",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="losses",
                    to="places.door",
                ),
            ),
            (
                "housing",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="losses",
                    to="places.housing",
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="places.site"
                ),
            ),
            (
                "symbol",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="systems.keysymbol"
                ),
            ),
            (
                "case",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE,
                    related_name="doors",
                    to="losses.losscase",
                ),
            ),
        ],
        options={
            "ordering": ["case", "look", "ordinal"],
            "indexes": [
                # The doors of a loss that are due for rekeying, a page at a time.
                models.Index(fields=["case", "look", "is_due", "ordinal"], name="case_door_by_due"),
                # The doors of a loss in one building, a page at a time.
                models.Index(fields=["case", "look", "building", "ordinal"], name="case_door_by_building"),
                # The doors of a loss at one's sites.
                models.Index(fields=["site", "case", "look"], name="case_door_by_site"),
            ],
            "constraints": [
                models.UniqueConstraint(
                    condition=models.Q(("state", "exposed")),
                    fields=("case", "look", "core"),
                    name="case_tells_an_exposed_core_once_a_look",
                ),
                models.UniqueConstraint(
                    condition=models.Q(("housing__isnull", False)),
                    fields=("case", "look", "housing"),
                    name="case_tells_a_housing_once_a_look",
                ),
                models.UniqueConstraint(
                    fields=("case", "look", "ordinal"), name="case_door_has_its_own_place_in_a_look"
                ),
                models.CheckConstraint(
                    condition=models.Q(("operates", True), ("withdraws", True), _connector="OR"),
                    name="case_door_has_an_effect",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("building__isnull", True),
                            ("door__isnull", True),
                            ("door_class", ""),
                            ("housing__isnull", True),
                            ("is_due", False),
                        ),
                        models.Q(
                            ("building__isnull", False),
                            ("door__isnull", False),
                            ("housing__isnull", False),
                            models.Q(("door_class", ""), _negated=True),
                        ),
                        _connector="OR",
                    ),
                    name="case_door_in_a_door_says_its_class",
                ),
                models.CheckConstraint(
                    condition=models.Q(("lost__lte", models.F("cut"))),
                    name="case_door_loses_no_more_than_cut",
                ),
            ],
        },
    ),
]
