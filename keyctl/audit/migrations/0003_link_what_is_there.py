"""Events from before the chain take their places in it, in the order in which they were recorded."""

from django.db import migrations

from keyctl.audit.chain import link_events
from keyctl.audit.entries import BATCH, entries_without_requests

UNLINKED = """
    SELECT e.id FROM audit_event e WHERE e.id > %s
    AND NOT EXISTS (SELECT 1 FROM audit_link l WHERE l.event_id = e.id) ORDER BY e.id LIMIT %s
"""


def link_all(_apps, schema_editor):
    last = 0
    while ids := _next(schema_editor.connection, last):
        link_events(schema_editor.connection, ids, entries_without_requests)
        last = ids[-1]


def _next(connection, after):
    with connection.cursor() as cursor:
        cursor.execute(UNLINKED, [after, BATCH])
        return [pk for (pk,) in cursor.fetchall()]


class Migration(migrations.Migration):
    dependencies = [("audit", "0002_links")]

    operations = [migrations.RunPython(link_all, migrations.RunPython.noop)]
