"""The product's settings with keys of our own and a fast password hasher."""

import atexit
import base64
import os
import shutil
import tempfile
from pathlib import Path

os.environ.setdefault("KEYCTL_SECRET_KEY", "only-for-tests")
os.environ.setdefault(
    "KEYCTL_VAULT_KEY", base64.urlsafe_b64encode(b"a key that only the tests know of"[:32]).decode()
)

from keyctl.settings import *  # noqa: F403
from keyctl.settings import DATA_DIR, DATABASES

# Between two looks tests undo what they wrote; what they change of the vault they forget themselves.
VAULT_LOOKS_EVERY = 1e9
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# Most tests are about something else than a second factor.
SECOND_FACTOR = "offered"
# Nor about how much a program asks for.
API_READS = API_WRITES = 1_000_000
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"

# Each of the tests' clients makes the middleware anew; a list of all static files took half of its time.
WHITENOISE_AUTOREFRESH = True

# Only served files lie there; the tests take them from where they are written.
(DATA_DIR / "static").mkdir(parents=True, exist_ok=True)

# Keys and checkpoints of the tests' own: what the checkout's demo made beside it opens nothing here.
_folder = tempfile.mkdtemp(prefix="keyctl-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
VAULT_KEY_FILE = Path(_folder) / "vault.key"
HISTORY_KEY_FILE = Path(_folder) / "history.key"
CHECKPOINT_DIR = Path(_folder) / "checkpoints"

if "postgresql" not in DATABASES["default"]["ENGINE"]:
    # A file, as in the product: threads then meet at the same database.
    DATABASES["default"]["TEST"] = {"NAME": f"{_folder}/keyctl.sqlite3"}
    # Nothing here outlives its test, so nothing waits for the disk. What must be durable is run as a process.
    DATABASES["default"]["OPTIONS"]["init_command"] += "PRAGMA synchronous=OFF;"
