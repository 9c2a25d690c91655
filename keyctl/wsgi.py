"""Entry point for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

from keyctl.lib.dumps import refuse_dumps

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keyctl.settings")

refuse_dumps()
application = get_wsgi_application()
