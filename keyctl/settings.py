"""Settings: one file, read from the environment. Every variable stands in DEVELOPERS.md."""

from pathlib import Path

from csp.constants import NONE, SELF

from keyctl.lib import database, env, limits, logs, mailserver, oidc
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
# Backups: where one is made every night, how many stay, and the pair of keys that seals and opens them.
BACKUP_DIR = env.folder_or_none("KEYCTL_BACKUP_DIR")
BACKUP_KEEP = env.number("KEYCTL_BACKUP_KEEP", 30)
BACKUP_KEY_FILE = SECRETS_DIR / "backup.key"
BACKUP_PUBLIC_KEY_FILE = SECRETS_DIR / "backup.pub"
# A data folder on memory or on another machine loses what was promised; who knows better says so.
ANY_DATA_FOLDER = env.flag("KEYCTL_ANY_DATA_FOLDER", False)
ALLOWED_HOSTS = env.words("KEYCTL_HOSTS", "127.0.0.1 localhost")
BASE_URL = env.text("KEYCTL_BASE_URL", "http://127.0.0.1:8000").rstrip("/")
CSRF_TRUSTED_ORIGINS = [BASE_URL]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "allauth.account",
    "allauth.mfa",
    "allauth.socialaccount",
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
    "keyctl.words",
    "keyctl.places",
    "keyctl.listing",
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
    "keyctl.maps",
    "keyctl.directory",
    "keyctl.desk",
    "keyctl.prints",
    "keyctl.labels",
    "keyctl.field",
    "keyctl.exports",
    "keyctl.imports",
    "keyctl.feed",
    "keyctl.webhooks",
    "keyctl.api",
    "keyctl.scim",
    "keyctl.guides",
    "keyctl.search",
    "keyctl.start",
    "keyctl.operations",
    "keyctl.demo",
]

MIDDLEWARE = [
    "keyctl.lib.headers.say_them",
    "keyctl.lib.arrivals.tell_of_files",
    "csp.middleware.CSPMiddleware",
    "keyctl.lib.numbering.number_requests",
    "keyctl.operations.metrics.measure_requests",
    "keyctl.lib.plainly.refuse_programs",
    "keyctl.lib.arriving.limit_requests",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "keyctl.accounts.middleware.EndIdleSessions",
    "keyctl.accounts.speaking.SpeakAsAsked",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "keyctl.accounts.middleware.AskForSecondFactor",
    "allauth.account.middleware.AccountMiddleware",
    "keyctl.places.policing.EnforcePolicies",
    "keyctl.lib.middleware.AnswerRefusals",
    "keyctl.accounts.middleware.LeadToProof",
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
            "builtins": ["keyctl.words.templatetags.days", "keyctl.words.templatetags.sentences"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "keyctl.places.context.sections",
                "keyctl.guides.context.guide_here",
            ],
        },
    },
]

DATABASES = {"default": database.from_url(env.text("KEYCTL_DATABASE_URL", ""), DATA_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
LOGIN_URL = "accounts:sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "accounts:sign-in"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
PASSWORD_WORDS = env.words("KEYCTL_PASSWORD_WORDS", "")
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "keyctl.lib.passwords.NoWordsOfTheHouse"},
]

# On plain HTTP (loopback) a Secure cookie would never come back; behind TLS it must not leave without.
_TLS = BASE_URL.startswith("https://")
SESSION_COOKIE_SECURE = _TLS
CSRF_COOKIE_SECURE = _TLS
SECURE_SSL_REDIRECT = _TLS
SECURE_HSTS_SECONDS = 31_536_000 if _TLS else 0
# Names below our own host: only who serves keyctl from a whole domain has other things there.
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.flag("KEYCTL_HSTS_SUBDOMAINS", True)
BEHIND_PROXY = env.flag("KEYCTL_BEHIND_PROXY", False)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
# Who asks whether a process lives asks it directly.
SECURE_REDIRECT_EXEMPT = [r"^health/", r"^metrics$"]
# Whether browsers ship with the name, only its owner decides.
SILENCED_SYSTEM_CHECKS = ["security.W021"]
METRICS_TOKEN = env.text("KEYCTL_METRICS_TOKEN", "")
SECURITY_CONTACT = env.address("KEYCTL_SECURITY_CONTACT")
# Not "no-referrer": a browser then sends "Origin: null" with a form, and the forgery check refuses it.
SECURE_REFERRER_POLICY = "same-origin"
# The browser itself refuses a cookie of such a name that another host, or plain HTTP, would set.
SESSION_COOKIE_NAME = "__Host-session" if _TLS else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if _TLS else "csrf"
# A page's own: it says that an answer is waited for. A script sets it, the answer that is a file ends it.
WAITING_COOKIE_NAME = "__Host-waiting" if _TLS else "waiting"
# Lax: a printed code, a link in a mail and an identity provider lead here from elsewhere.
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_ENGINE = "keyctl.accounts.sessions"
# From the sign-in on, however busy; and where a role sees bittings, so long without a request.
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_IDLE_AGE = 30 * 60
# Limits hold over all processes; what only saves work, each process keeps for itself.
CACHES = {
    "default": {"BACKEND": "keyctl.accounts.tally.SharedTally"},
    "process": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
}

SECOND_FACTOR = env.choice("KEYCTL_SECOND_FACTOR", "forced", "offered")
ACCOUNT_ADAPTER = "keyctl.accounts.adapters.AccountAdapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_SIGNUP_ENABLED = False
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_RATE_LIMITS = {
    # All tries from one address; failed ones from one address, and under one name, known or not.
    "login": "60/m/ip",
    "login_failed": "20/m/ip,5/5m/key",
    "reauthenticate": "10/m/user",
    "change_password": "5/5m/user",
    "way_back": "10/10m/ip",
}
MFA_ADAPTER = "keyctl.accounts.adapters.FactorAdapter"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
# As a second factor too: else a challenge made for it might be answered at sign-in without PIN or finger.
MFA_WEBAUTHN_USER_VERIFICATION = "required"
MFA_ALLOW_UNVERIFIED_EMAIL = True
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_RECOVERY_CODE_DIGITS = 12
MFA_TOTP_ISSUER = "keyctl"
# A clock that is half a minute off is common; a code still holds once only.
MFA_TOTP_TOLERANCE = 1
SOCIALACCOUNT_ADAPTER = "keyctl.accounts.adapters.ProviderAdapter"
SOCIALACCOUNT_PROVIDERS = oidc.providers()
# The proxy in front says in its last entry where a request came from.
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if BEHIND_PROXY else 0
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
        "object-src": [NONE],
    }
}

STATIC_URL = "static/"
# Guides show the pictures that README.md shows.
STATICFILES_DIRS = [BASE_DIR / "static", ("pictures", BASE_DIR / ".pictures")]
STATIC_ROOT = DATA_DIR / "static"
WHITENOISE_USE_FINDERS = True
# No page of another host has business with our files.
WHITENOISE_ALLOW_ALL_ORIGINS = False

FIXTURE_DIRS = [BASE_DIR / "fixtures"]
LANGUAGE_CODE = env.choice("KEYCTL_LANGUAGE", "en-gb", "de")
TIME_ZONE = env.text("KEYCTL_TIME_ZONE", "UTC")
# Of everything that is printed: a4 or letter.
PAPER = env.choice("KEYCTL_PAPER", "a4", "letter")
USE_I18N = True
LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "keyctl" / "locale"]
USE_TZ = True

# Without a server named, mail is kept and shown as not sent.
_MAIL = mailserver.from_url(env.text("KEYCTL_EMAIL_URL", ""))
EMAIL_HOST, EMAIL_PORT = _MAIL.host, _MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _MAIL.user, _MAIL.password
EMAIL_USE_SSL, EMAIL_USE_TLS = _MAIL.begins_with_tls, _MAIL.asks_for_tls
# A server that does not answer must not hold up the worker.
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.text("KEYCTL_EMAIL_FROM", "keyctl <keyctl@localhost>")

# What is sent stays in memory, where it is measured: a bitting must not lie in a temporary file.
FILE_UPLOAD_HANDLERS = ["django.core.files.uploadhandler.MemoryFileUploadHandler"]
FILE_UPLOAD_MAX_MEMORY_SIZE = limits.LARGEST_BODY
DATA_UPLOAD_MAX_MEMORY_SIZE = limits.LARGEST_FORM
DATA_UPLOAD_MAX_NUMBER_FIELDS = limits.MOST_FIELDS
DATA_UPLOAD_MAX_NUMBER_FILES = limits.MOST_FILES
# With KEYCTL_DEBUG: where it went wrong, and no value.
DEFAULT_EXCEPTION_REPORTER = "keyctl.lib.reporting.PlacesOnly"
DEFAULT_EXCEPTION_REPORTER_FILTER = "keyctl.lib.reporting.NoValues"

# The queue lies in the database; `manage.py work` takes from it.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["keyctl.api.auth.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["keyctl.api.auth.HasScope"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "keyctl.api.schema.Described",
    "DEFAULT_PAGINATION_CLASS": "keyctl.api.paging.Pages",
    "EXCEPTION_HANDLER": "keyctl.api.problems.answer",
    "UNAUTHENTICATED_USER": None,
    # There is one representation; a filter may be called format.
    "URL_FORMAT_OVERRIDE": None,
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
    # Fields of one name, each with words of its own.
    "ENUM_NAME_OVERRIDES": {
        "HolderKindEnum": "keyctl.keys.models.PersonKind",
        "HousingKindEnum": "keyctl.places.models.Housing.Kind",
    },
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "keyctl.api.schema.describe_parts",
        "keyctl.api.messages.describe_messages",
        "keyctl.api.schema.share",
    ],
}

# How many requests a program's token may send in a minute.
API_READS = env.number("KEYCTL_API_READS", 1200)
API_WRITES = env.number("KEYCTL_API_WRITES", 300)

LOGGING = logs.configuration(env.text("KEYCTL_LOGS", "lines"))
