"""Write the tables anew: ``python -m tests.matrix``. Read the difference before it is kept."""

import os
import sys

import django


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    from tests.matrix import table

    for file, text in table.files().items():
        file.write_text(text)
        sys.stdout.write(f"{file}: {text.count(chr(10)) - 1:,} rows\n")


main()
