"""A part of 0001_initial: a migration longer than a page to read is kept in pieces."""

import uuid

import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.CreateModel(
        name="CountRule",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            (
                "subject",
                models.CharField(
                    choices=[
                        ("cabinets", "Each cabinet"),
                        ("holders", "Each holder"),
                        ("masters", "Master and control keys, by serial"),
                        ("critical", "Keys of critical doors, by serial"),
                        ("all", "Every key, by serial"),
                    ],
                    max_length=10,
                ),
            ),
            ("number", models.PositiveIntegerField()),
            ("interval_months", models.PositiveSmallIntegerField()),
            (
                "counters",
                models.CharField(
                    choices=[
                        ("desk", "The key desk"),
                        ("locksmith", "A locksmith"),
                        ("either", "The key desk or a locksmith"),
                    ],
                    default="either",
                    max_length=10,
                ),
            ),
            ("needs_witness", models.BooleanField(default=False)),
            ("accepts_declared", models.BooleanField(default=False)),
            ("missing_days", models.PositiveSmallIntegerField(default=14)),
            ("retention_days", models.PositiveIntegerField()),
            ("on_new_custodian", models.BooleanField(default=False)),
            ("blocks_issuing", models.BooleanField(default=False)),
            ("source", models.CharField(max_length=400)),
            ("is_ended", models.BooleanField(default=False)),
            ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
            (
                "made_by",
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
                    related_name="count_rules",
                    to="places.site",
                ),
            ),
        ],
        options={
            "ordering": ["site__code", "subject", "-number"],
            "constraints": [
                models.UniqueConstraint(
                    fields=("site", "subject", "number"), name="count_rule_version_is_numbered_once"
                ),
                models.CheckConstraint(
                    condition=models.Q(("interval_months__gte", 1), ("interval_months__lte", 60)),
                    name="count_rule_counts_within_five_years",
                ),
                models.CheckConstraint(
                    condition=models.Q(("source", ""), _negated=True), name="count_rule_names_its_source"
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("subject", "cabinets"),
                        models.Q(("blocks_issuing", False), ("on_new_custodian", False)),
                        _connector="OR",
                    ),
                    name="only_cabinets_have_custodians_to_change",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("blocks_issuing", False), ("on_new_custodian", True), _connector="OR"
                    ),
                    name="issuing_waits_only_for_a_forced_count",
                ),
            ],
        },
    ),
    migrations.CreateModel(
        name="Count",
        fields=[
            (
                "id",
                models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False),
            ),
            ("number", models.PositiveIntegerField()),
            (
                "scope",
                models.CharField(
                    choices=[
                        ("cabinet", "A cabinet"),
                        ("holder", "A holder"),
                        ("keys", "Keys by serial"),
                        ("sample", "A sample"),
                    ],
                    max_length=8,
                ),
            ),
            (
                "subject",
                models.CharField(
                    blank=True,
                    choices=[
                        ("cabinets", "Each cabinet"),
                        ("holders", "Each holder"),
                        ("masters", "Master and control keys, by serial"),
                        ("critical", "Keys of critical doors, by serial"),
                        ("all", "Every key, by serial"),
                    ],
                    max_length=10,
                ),
            ),
            ("sample_size", models.PositiveIntegerField(null=True)),
            (
                "reason",
                models.CharField(
                    choices=[
                        ("rule", "Due by the rule"),
                        ("custodian", "Change of custodian"),
                        ("hand", "Started by hand"),
                    ],
                    max_length=10,
                ),
            ),
            (
                "state",
                models.CharField(
                    choices=[
                        ("due", "Due"),
                        ("running", "Being counted"),
                        ("closed", "Counted"),
                        ("cancelled", "Not counted"),
                    ],
                    default="due",
                    max_length=10,
                ),
            ),
            ("due_on", models.DateField(null=True)),
            ("opened_at", models.DateTimeField(default=django.utils.timezone.now)),
            ("started_at", models.DateTimeField(null=True)),
            ("witnessed_at", models.DateTimeField(null=True)),
            ("needs_witness", models.BooleanField(default=False)),
            ("ended_at", models.DateTimeField(null=True)),
            ("note", models.CharField(blank=True, max_length=400)),
            ("expected_count", models.PositiveIntegerField(null=True)),
            ("sighted_count", models.PositiveIntegerField(null=True)),
            ("declared_count", models.PositiveIntegerField(null=True)),
            ("handled_count", models.PositiveIntegerField(null=True)),
            ("difference_count", models.PositiveIntegerField(null=True)),
            ("law_breaches", models.PositiveIntegerField(null=True)),
            ("version", models.PositiveIntegerField(default=1)),
            (
                "cabinet",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="counts",
                    to="keys.cabinet",
                ),
            ),
            (
                "counter",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "custodian",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
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
                "holder",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="counts",
                    to="keys.holder",
                ),
            ),
            (
                "site",
                models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="key_counts",
                    to="places.site",
                ),
            ),
            (
                "symbol",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="counts",
                    to="systems.keysymbol",
                ),
            ),
            (
                "witness",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="+",
                    to=settings.AUTH_USER_MODEL,
                ),
            ),
            (
                "rule",
                models.ForeignKey(
                    null=True,
                    on_delete=django.db.models.deletion.PROTECT,
                    related_name="counts",
                    to="counts.countrule",
                ),
            ),
        ],
        options={
            "ordering": ["-opened_at", "-number"],
            "indexes": [
                # Counts of a site that are due or run, and the last that ended.
                models.Index(fields=["site", "state", "-ended_at"], name="count_by_state"),
            ],
            "constraints": [
                models.UniqueConstraint(fields=("site", "number"), name="count_number_is_unique_in_its_site"),
                models.UniqueConstraint(
                    condition=models.Q(("state__in", ["due", "running"])),
                    fields=("cabinet",),
                    name="cabinet_has_one_open_count",
                ),
                models.UniqueConstraint(
                    condition=models.Q(("state__in", ["due", "running"])),
                    fields=("holder",),
                    name="holder_has_one_open_count",
                ),
                models.UniqueConstraint(
                    condition=models.Q(
                        ("scope", "keys"),
                        ("state__in", ["due", "running"]),
                        models.Q(("subject", ""), _negated=True),
                    ),
                    fields=("site", "subject"),
                    name="keys_by_serial_have_one_open_count",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("cabinet__isnull", False), ("holder__isnull", True), ("scope", "cabinet")),
                        models.Q(("cabinet__isnull", True), ("holder__isnull", False), ("scope", "holder")),
                        models.Q(
                            ("cabinet__isnull", True),
                            ("holder__isnull", True),
                            ("scope__in", ["keys", "sample"]),
                        ),
                        _connector="OR",
                    ),
                    name="count_says_what_it_counts",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("counter__isnull", True), ("started_at__isnull", True), ("state", "due")),
                        models.Q(
                            ("counter__isnull", False),
                            ("started_at__isnull", False),
                            ("state__in", ["running", "closed"]),
                        ),
                        ("state", "cancelled"),
                        _connector="OR",
                    ),
                    name="count_that_runs_says_who_and_since_when",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(
                            ("ended_at__isnull", True),
                            ("ended_by__isnull", True),
                            ("state__in", ["due", "running"]),
                        ),
                        models.Q(
                            ("ended_at__isnull", False),
                            ("ended_by__isnull", False),
                            ("state__in", ["closed", "cancelled"]),
                        ),
                        _connector="OR",
                    ),
                    name="count_that_ended_says_who_and_when",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        models.Q(("state", "closed"), _negated=True),
                        models.Q(
                            ("difference_count__isnull", False),
                            ("expected_count__isnull", False),
                            ("law_breaches__isnull", False),
                            ("sighted_count__isnull", False),
                        ),
                        _connector="OR",
                    ),
                    name="count_that_is_closed_has_its_figures",
                ),
                models.CheckConstraint(
                    condition=models.Q(("counter", models.F("witness")), _negated=True),
                    name="nobody_witnesses_their_own_count",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("needs_witness", False),
                        models.Q(("state", "closed"), _negated=True),
                        ("witnessed_at__isnull", False),
                        _connector="OR",
                    ),
                    name="count_closes_with_the_witness_it_needs",
                ),
                models.CheckConstraint(
                    condition=models.Q(
                        ("witnessed_at__isnull", True), ("witness__isnull", False), _connector="OR"
                    ),
                    name="count_that_was_witnessed_says_by_whom",
                ),
            ],
        },
    ),
]
