"""A part of 0002_steps_and_rules: a migration longer than a page to read is kept in pieces."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

OPERATIONS = [
    migrations.AddField(
        model_name="approvalrule",
        name="people",
        field=models.ManyToManyField(related_name="+", to=settings.AUTH_USER_MODEL),
    ),
    migrations.AddField(
        model_name="approvalrule",
        name="site",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE, related_name="approval_rules", to="places.site"
        ),
    ),
    migrations.AddField(
        model_name="step",
        name="asked_by",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
        ),
    ),
    migrations.AddField(
        model_name="step",
        name="asked_for",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="step",
        name="decided_by",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="step",
        name="for_person",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="step",
        name="master_out_by",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="step",
        name="people",
        field=models.ManyToManyField(related_name="+", to=settings.AUTH_USER_MODEL),
    ),
    migrations.AddField(
        model_name="step",
        name="request",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE, related_name="steps", to="approvals.keyrequest"
        ),
    ),
    migrations.AddField(
        model_name="substitute",
        name="building",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.CASCADE,
            related_name="substitutes",
            to="places.building",
        ),
    ),
    migrations.AddField(
        model_name="substitute",
        name="ended_by",
        field=models.ForeignKey(
            null=True,
            on_delete=django.db.models.deletion.PROTECT,
            related_name="+",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="substitute",
        name="named_by",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
        ),
    ),
    migrations.AddField(
        model_name="substitute",
        name="person",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE,
            related_name="substitutes",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddField(
        model_name="substitute",
        name="site",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE, related_name="substitutes", to="places.site"
        ),
    ),
    migrations.AddField(
        model_name="substitute",
        name="stands_in",
        field=models.ForeignKey(
            on_delete=django.db.models.deletion.CASCADE,
            related_name="stands_in_for",
            to=settings.AUTH_USER_MODEL,
        ),
    ),
    migrations.AddConstraint(
        model_name="approvalrule",
        constraint=models.UniqueConstraint(
            fields=("site", "ordinal"), name="approval_rule_has_its_place_at_a_site"
        ),
    ),
    migrations.AddConstraint(
        model_name="approvalrule",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(
                    ("door_class", ""),
                    ("extra__isnull", True),
                    ("level__isnull", False),
                    ("when", "level"),
                ),
                models.Q(
                    ("door_class__in", ["restricted", "critical"]),
                    ("extra__isnull", True),
                    ("level__isnull", True),
                    ("when", "door-class"),
                ),
                models.Q(("door_class", ""), ("extra__gt", 0), ("level__isnull", True), ("when", "extra")),
                models.Q(
                    ("door_class", ""),
                    ("extra__isnull", True),
                    ("level__isnull", True),
                    ("when__in", ["always", "master", "top"]),
                ),
                _connector="OR",
            ),
            name="approval_rule_says_when_it_holds",
        ),
    ),
    migrations.AddConstraint(
        model_name="approvalrule",
        constraint=models.CheckConstraint(
            condition=models.Q(("silent_hours__gte", 1), ("silent_hours__lte", 720)),
            name="approval_rule_waits_at_least_an_hour",
        ),
    ),
    migrations.AddIndex(
        model_name="step",
        # Decisions beyond their term, for reminders and the first page.
        index=models.Index(fields=["state", "due_at"], name="step_by_due_time"),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.UniqueConstraint(
            fields=("request", "ordinal"), name="step_has_its_place_in_its_request"
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.UniqueConstraint(
            condition=models.Q(("since__isnull", False), ("state", "waiting")),
            fields=("request",),
            name="key_request_waits_for_one_step_at_a_time",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.UniqueConstraint(
            condition=models.Q(("is_apart", True)),
            fields=("request", "decided_by"),
            name="steps_apart_are_decided_by_different_people",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("decided_at__isnull", True), ("decided_by__isnull", True), ("state", "waiting")),
                models.Q(
                    ("decided_at__isnull", False),
                    ("decided_by__isnull", False),
                    ("since__isnull", False),
                    ("state__in", ["approved", "refused"]),
                ),
                _connector="OR",
            ),
            name="step_decision_says_who_and_when",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("due_at__isnull", True), ("since__isnull", True)),
                models.Q(("due_at__isnull", False), ("since__isnull", False)),
                _connector="OR",
            ),
            name="step_that_waits_says_until_when",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(("decided_by", models.F("asked_by")), _negated=True),
            name="nobody_decides_a_step_they_asked_for",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(("decided_by", models.F("asked_for")), _negated=True),
            name="nobody_decides_a_step_for_themselves",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("for_person", models.F("asked_by")), _negated=True),
                models.Q(("for_person", models.F("asked_for")), _negated=True),
            ),
            name="no_substitute_decides_for_whom_they_stand_in",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(("decided_by", models.F("for_person")), _negated=True),
            name="nobody_decides_as_their_own_substitute",
        ),
    ),
    migrations.AddConstraint(
        model_name="step",
        constraint=models.CheckConstraint(
            condition=models.Q(("master_out_by", models.F("decided_by")), _negated=True),
            name="who_decides_a_step_does_not_hand_its_master_out",
        ),
    ),
    migrations.AddConstraint(
        model_name="substitute",
        constraint=models.CheckConstraint(
            condition=models.Q(("person", models.F("stands_in")), _negated=True),
            name="nobody_is_their_own_substitute",
        ),
    ),
    migrations.AddConstraint(
        model_name="substitute",
        constraint=models.CheckConstraint(
            condition=models.Q(("until__gte", models.F("since"))), name="substitution_ends_after_it_began"
        ),
    ),
    migrations.AddConstraint(
        model_name="substitute",
        constraint=models.CheckConstraint(
            condition=models.Q(
                models.Q(("ended_at__isnull", True), ("ended_by__isnull", True)),
                models.Q(("ended_at__isnull", False), ("ended_by__isnull", False)),
                _connector="OR",
            ),
            name="substitution_that_was_ended_says_by_whom",
        ),
    ),
]
