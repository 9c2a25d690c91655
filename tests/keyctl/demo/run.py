import io

from django.core.management import call_command


def run_demo(**options: object) -> str:
    out = io.StringIO()
    call_command("demo", no_serve=True, stdout=out, stderr=out, **options)
    return out.getvalue()
