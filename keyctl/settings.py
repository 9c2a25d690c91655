"""Settings: one file, read from the environment. Every variable stands in DEVELOPERS.md."""

from pathlib import Path

from csp.constants import NONE, SELF

from keyctl.lib import database, env, logs, mailserver
from keyctl.lib.sqlite import use_bundled_library

use_bundled_library()

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.folder("KEYCTL_DATA_DIR", BASE_DIR / ".data")
# Keys never lie beside the data they open: a copied data folder must not carry its own key.
SECRETS_DIR = env.folder("KEYCTL_SECRETS_DIR", BASE_DIR / ".secrets")

DEBUG = env.flag("KEYCTL_DEBUG", False)
SECRET_KEY = env.secret("KEYCTL_SECRET_KEY", SECRETS_DIR / "django.key")
VAULT_KEY_FILE = SECRETS_DIR / "vault.key"
# How many seconds a process goes on sealing with the key it last saw in use.
VAULT_LOOKS_EVERY = 5.0
HISTORY_KEY_FILE = SECRETS_DIR / "history.key"
# Nor do signed checkpoints lie inside the data: who replaces the one folder must not replace them too.
CHECKPOINT_DIR = env.folder("KEYCTL_CHECKPOINT_DIR", DATA_DIR.with_name(f"{DATA_DIR.name}-checkpoints"))
ALLOWED_HOSTS = env.words("KEYCTL_HOSTS", "127.0.0.1 localhost")
BASE_URL = env.text("KEYCTL_BASE_URL", "http://127.0.0.1:8000").rstrip("/")
CSRF_TRUSTED_ORIGINS = [BASE_URL]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "csp",
    "django_htmx",
    "template_partials",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_tasks",
    "django_tasks_db",
    "keyctl.audit",
    "keyctl.vault",
    "keyctl.accounts",
    "keyctl.places",
    "keyctl.jobs",
    "keyctl.notices",
    "keyctl.reveals",
    "keyctl.formats",
    "keyctl.stock",
    "keyctl.systems",
    "keyctl.cores",
    "keyctl.inherited",
    "keyctl.charts",
    "keyctl.proofs",
    "keyctl.exposure",
    "keyctl.versions",
    "keyctl.interim",
    "keyctl.keys",
    "keyctl.orders",
    "keyctl.bench",
    "keyctl.recovery",
    "keyctl.approvals",
    "keyctl.losses",
    "keyctl.rotations",
    "keyctl.counts",
    "keyctl.leavers",
    "keyctl.directory",
    "keyctl.desk",
    "keyctl.prints",
    "keyctl.labels",
    "keyctl.field",
    "keyctl.api",
    "keyctl.scim",
    "keyctl.operations",
    "keyctl.demo",
]

MIDDLEWARE = [
    "keyctl.lib.numbering.number_requests",
    "keyctl.operations.metrics.measure_requests",
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "keyctl.places.policing.EnforcePolicies",
    "keyctl.lib.middleware.AnswerRefusals",
    "keyctl.lib.middleware.RefuseNoText",
    "keyctl.lib.middleware.keep_pages_private",
]

ROOT_URLCONF = "keyctl.urls"
WSGI_APPLICATION = "keyctl.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "keyctl.places.context.sections",
            ],
        },
    },
]

DATABASES = {"default": database.from_url(env.text("KEYCTL_DATABASE_URL", ""), DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
LOGIN_URL = "accounts:sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "accounts:sign-in"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

# On plain HTTP (loopback) a Secure cookie would never come back; behind TLS it must not leave without.
_TLS = BASE_URL.startswith("https://")
SESSION_COOKIE_SECURE = _TLS
CSRF_COOKIE_SECURE = _TLS
SECURE_SSL_REDIRECT = _TLS
SECURE_HSTS_SECONDS = 31_536_000 if _TLS else 0
BEHIND_PROXY = env.flag("KEYCTL_BEHIND_PROXY", False)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
# Who asks whether a process lives asks it directly.
SECURE_REDIRECT_EXEMPT = [r"^health/", r"^metrics$"]
# What else runs under the same domain is not ours to decide.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
METRICS_TOKEN = env.text("KEYCTL_METRICS_TOKEN", "")
# Not "no-referrer": a browser then sends "Origin: null" with a form, and the forgery check refuses it.
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_AGE = 12 * 60 * 60
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "manifest-src": [SELF],
    }
}

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
WHITENOISE_USE_FINDERS = True

FIXTURE_DIRS = [BASE_DIR / "fixtures"]
LANGUAGE_CODE = "en-gb"
TIME_ZONE = env.text("KEYCTL_TIME_ZONE", "UTC")
USE_I18N = True
USE_TZ = True

# Without a server named, mail is kept and shown as not sent.
_MAIL = mailserver.from_url(env.text("KEYCTL_EMAIL_URL", ""))
EMAIL_HOST, EMAIL_PORT = _MAIL.host, _MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _MAIL.user, _MAIL.password
EMAIL_USE_SSL, EMAIL_USE_TLS = _MAIL.begins_with_tls, _MAIL.asks_for_tls
# A server that does not answer must not hold up the worker.
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.text("KEYCTL_EMAIL_FROM", "keyctl <keyctl@localhost>")

# The queue lies in the database; `manage.py work` takes from it.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["keyctl.api.auth.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["keyctl.api.auth.HasScope"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_PAGINATION_CLASS": "keyctl.api.paging.Pages",
    "EXCEPTION_HANDLER": "keyctl.api.problems.answer",
    "UNAUTHENTICATED_USER": None,
}

SPECTACULAR_SETTINGS = {
    "TITLE": "keyctl",
    "DESCRIPTION": "Doors, housings, cores and work orders. No answer holds a bitting or a pin.",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_AUTHENTICATION": None,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SCHEMA_PATH_PREFIX": "/api/v1",
}

LOGGING = logs.configuration(env.text("KEYCTL_LOGS", "lines"))
