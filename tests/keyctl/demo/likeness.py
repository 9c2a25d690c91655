"""Whether two estates are the same, told without identifiers, moments and secrets.

A row is known by its plain fields and by what it points at, which is known in the same way: so two estates
differ where any row, or what it belongs to, differs. The labels come from the models' own description, not
from anything in `keyctl.demo`.
"""

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import models

from keyctl.vault.fields import SealedField

# What is numbered by the run, read anew from the rest, or works on time.
LEFT_OUT = {"feed", "search", "jobs", "notices", "webhooks"}
OF_THE_CHAIN = {"audit.link", "audit.head"}
# Keyed digests, and figures by identifier.
DIGESTS = {
    "fingerprint",
    "digest",
    "password",
    "sha256",
    "secret_digest",
    "figures",
    "detail",
    "tag",
    "cells",
}
UNTOLD = (models.DateField, models.UUIDField, models.BinaryField, models.JSONField, SealedField)
# Tags of cores, serials of copies and days that stand in sentences.
TAG = re.compile(r"\b[0-9A-Z]{4}(?:-[0-9A-Z]{4}){2}\b|\b[0-9A-Z]{12}\b")
MOMENT = re.compile(r"\d{4}-\d\d-\d\d|\d?\d:\d\d(?: [ap]\.?m\.?)?|\b\d?\d (?=[A-Z][a-z]+ \d{4})")
ROUNDS = 3

Labels = dict[Any, int]
Likeness = dict[str, Counter[int]]


def likeness() -> Likeness:
    """By model, how many rows look alike."""
    told = list(_models())
    labels = {model: _plain(model) for model in told}
    for _ in range(ROUNDS):
        labels = {model: _with_what_it_points_at(model, labels) for model in told}
    return {model._meta.label_lower: Counter(labels[model].values()) for model in told}


def _models() -> Iterator[type[models.Model]]:
    for model in apps.get_models(include_auto_created=True):
        label = model._meta.label_lower
        ours = (model.__module__ or "").startswith("keyctl.")
        if ours and model._meta.app_label not in LEFT_OUT and label not in OF_THE_CHAIN:
            yield model


def _rows(model: type[models.Model]) -> models.QuerySet[Any]:
    rows = model._base_manager.all()
    if model._meta.label_lower == "audit.event":
        return rows.exclude(verb__startswith="demo.")
    if model._meta.label_lower == "audit.eventsubject":
        return rows.exclude(event__verb__startswith="demo.")
    return rows


def _plain(model: type[models.Model]) -> Labels:
    fields = [
        field.attname
        for field in model._meta.concrete_fields
        if not (field.primary_key or field.is_relation or isinstance(field, UNTOLD) or field.name in DIGESTS)
    ]
    rows = _rows(model).values_list("pk", *fields)
    return {pk: hash(tuple(_text(value) for value in values)) for pk, *values in rows}


def _text(value: object) -> object:
    return MOMENT.sub("THEN", TAG.sub("TAG", value)) if isinstance(value, str) else value


def _with_what_it_points_at(model: type[models.Model], labels: dict[type[models.Model], Labels]) -> Labels:
    keys = [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, models.ForeignKey) and field.related_model in labels
    ]
    own = labels[model]
    rows = _rows(model).values_list("pk", *(key.attname for key in keys))
    return {
        pk: hash((own[pk], *(labels[key.related_model].get(at) for key, at in zip(keys, ats, strict=True))))
        for pk, *ats in rows
    }
