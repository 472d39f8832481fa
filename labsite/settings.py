"""
Every setting of the site, read from the environment. Reading this file starts nothing; it makes SILTBOOK_HOME.

Variables (all optional; the defaults run one laboratory on one computer):
SILTBOOK_HOME            folder for the program's own database, key and collected files
DATABASE_URL             postgresql://... to use instead of the program's own database
CELERY_BROKER_URL        amqp://... to use instead of the queue inside the database
SILTBOOK_SECRET_KEY      signing key; without it one is made and kept in SILTBOOK_HOME
SILTBOOK_ALLOWED_HOSTS   comma-separated host names
SILTBOOK_PUBLIC_URL      address printed on certificates, e.g. https://lab.example
SILTBOOK_PDF_KEY         PKCS#12 file that signs certificates' PDFs; without it a self-made one in SILTBOOK_HOME
SILTBOOK_PDF_KEY_SECRET  what opens it
SILTBOOK_HTTPS           1 behind a TLS proxy
SILTBOOK_TIME_ZONE       for days and times on pages, e.g. Europe/Oslo (UTC without it)
SILTBOOK_LOG_LEVEL       WARNING without it
SILTBOOK_POOL            1 to use a connection pool (web processes)
SILTBOOK_DEBUG           1 to see tracebacks (never with clients' data)
SILTBOOK_TEST_DATABASE   name of the database made for tests
"""

import os
from pathlib import Path

from csp.constants import NONE, SELF
from psycopg.conninfo import conninfo_to_dict, make_conninfo

from labsite.embedded.cluster import Cluster, kept_once


def env_bool(name: str) -> bool:
    return os.environ.get(name, "").lower() in {"1", "true", "yes"}


def env_list(name: str, default: str) -> list[str]:
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


BASE_DIR = Path(__file__).resolve().parent.parent
SILTBOOK_HOME = Path(os.environ.get("SILTBOOK_HOME") or BASE_DIR / ".siltbook").absolute()
DEBUG = env_bool("SILTBOOK_DEBUG")


SECRET_KEY = os.environ.get("SILTBOOK_SECRET_KEY") or kept_once(SILTBOOK_HOME / "secret_key", 32)
ALLOWED_HOSTS = env_list("SILTBOOK_ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]")
PUBLIC_URL = os.environ.get("SILTBOOK_PUBLIC_URL", "http://127.0.0.1:8000").rstrip("/")
CERTIFICATE_KEY = os.environ.get("SILTBOOK_PDF_KEY", "")
OWN_CERTIFICATE_KEY = SILTBOOK_HOME / "certificate_key.p12"
CERTIFICATE_KEY_PASSPHRASE = os.environ.get("SILTBOOK_PDF_KEY_SECRET", "")

INSTALLED_APPS = [
    "labsite",
    "reports",
    "batches",
    "particles",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.postgres",
    "django.contrib.staticfiles",
    "csp",
    "rest_framework",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "pgtrigger",
    "pghistory",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "pghistory.middleware.HistoryMiddleware",
    "labsite.mishaps.refusals.RefusalMiddleware",
]

ROOT_URLCONF = "labsite.urls"
WSGI_APPLICATION = "labsite.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "labsite" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "labsite.navigation.page",
            ],
        },
    }
]
FORM_RENDERER = "labsite.forms.SiteForms"

# --- database -------------------------------------------------------------------------
DATABASE_URL = os.environ.get("DATABASE_URL", "")
CONNINFO = conninfo_to_dict(DATABASE_URL) if DATABASE_URL else Cluster(SILTBOOK_HOME).conninfo()
_own_keywords = {"host", "port", "dbname", "user", "password"}
DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": CONNINFO.get("dbname", ""),
        "HOST": CONNINFO.get("host", ""),
        "PORT": CONNINFO.get("port", ""),
        "USER": CONNINFO.get("user", ""),
        "PASSWORD": CONNINFO.get("password", ""),
        "CONN_MAX_AGE": 0 if env_bool("SILTBOOK_POOL") else 60,
        "OPTIONS": {key: value for key, value in CONNINFO.items() if key not in _own_keywords}
        | ({"pool": {"min_size": 1, "max_size": 8}} if env_bool("SILTBOOK_POOL") else {}),
        "TEST": {"NAME": os.environ.get("SILTBOOK_TEST_DATABASE", "test_siltbook")},
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {"default": {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "siltbook_cache"}}

# --- people ---------------------------------------------------------------------------
AUTH_USER_MODEL = "labsite.User"
AUTHENTICATION_BACKENDS = ["labsite.people.backend.RoleBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*", "password2*"]
ACCOUNT_FORMS = {"login": "labsite.people.forms.LogInForm"}
ACCOUNT_ADAPTER = "labsite.people.closed_sign_up.ClosedSignUp"
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = False
MFA_ALLOW_UNVERIFIED_EMAIL = True
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
SESSION_COOKIE_AGE = 12 * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True

# --- web ------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
TIME_ZONE = os.environ.get("SILTBOOK_TIME_ZONE", "UTC")
USE_TZ = True
USE_I18N = False  # every sentence is written in English where it is said
STATIC_URL = "static/"
STATIC_ROOT = SILTBOOK_HOME / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # whitenoise warns of a folder that is not there
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "labsite.static_files.HashedNames"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "manifest-src": [SELF],
        "worker-src": [SELF],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
if env_bool("SILTBOOK_HTTPS"):
    ALLAUTH_TRUSTED_PROXY_COUNT = 1
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = 31_536_000
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "UNICODE_JSON": True,
}

# --- worker ---------------------------------------------------------------------------
# The queue inside the database: libpq keywords, never a URL, because the client would
# otherwise let DATABASE_URL override the address it is given.
CELERY_BROKER_URL = os.environ.get("CELERY_BROKER_URL") or "pgmq://localhost"
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 60
CELERY_WORKER_PREFETCH_MULTIPLIER = 4
CELERY_WORKER_ENABLE_REMOTE_CONTROL = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BEAT_SCHEDULE = {"notify again": {"task": "batches.notify_again", "schedule": 5.0}}
CELERY_BEAT_SCHEDULE_FILENAME = str(SILTBOOK_HOME / "schedule")
if CELERY_BROKER_URL.startswith("pgmq"):
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "conn_string": make_conninfo("", **CONNINFO),
        "init_extension": False,
        "visibility_timeout": 120,
        # Never LISTEN: a publisher that does not read its notices (the scheduler) fills its socket within
        # the hour and then blocks DROP DATABASE, and in the end every NOTIFY (decision 0005).
        "use_notify": False,
        "polling_interval": 0.1,
        "wait_time_seconds": 0,
    }
else:
    CELERY_TASK_DEFAULT_QUEUE_TYPE = "quorum"
    CELERY_WORKER_DETECT_QUORUM_QUEUES = True
    CELERY_BROKER_TRANSPORT_OPTIONS = {"confirm_publish": True}
PGMQ_IN_DATABASE = CELERY_BROKER_URL.startswith("pgmq")

# Triggers are declared on the models and installed after every migrate in one pass; as
# steps of migrations they made an empty database take 30 s.
PGTRIGGER_MIGRATIONS = False
PGTRIGGER_INSTALL_ON_MIGRATE = True
PGHISTORY_APPEND_ONLY = True

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "filters": {"plain refusals": {"()": "labsite.mishaps.logs.NoTraceOfRefusals"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["plain refusals"]}
    },
    "root": {"handlers": ["console"], "level": os.environ.get("SILTBOOK_LOG_LEVEL", "WARNING")},
}
