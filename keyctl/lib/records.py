"""The abstract base of every stored record: a random identifier that says nothing about its neighbours."""

import uuid

from django.db import models


class Record(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)

    class Meta:
        abstract = True
