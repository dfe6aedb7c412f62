"""All settings, top to bottom. Each variable is in ``env.VARIABLES``."""

import os
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

from practice.env import Environment

env = Environment(os.environ)
BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = (BASE_DIR / env.text("DATA")).resolve()
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)

DEBUG = env.flag("DEBUG")


def _secret_key() -> str:
    key = env.text("SECRET_KEY")
    kept = DATA_DIR / "secret_key"
    if not key and kept.is_file():
        key = kept.read_text(encoding="utf-8").strip()
    if not key:
        raise ImproperlyConfigured(
            f"No secret key. `python3 manage.py up` makes one at {kept}; "
            "or set CLENCHLINE_SECRET_KEY."
        )
    return key


SECRET_KEY = _secret_key()
SITE_URL = env.text("SITE_URL").rstrip("/")
_site = urlsplit(SITE_URL)
IS_HTTPS = _site.scheme == "https"
ALLOWED_HOSTS = [
    _site.hostname or "localhost",
    "localhost",
    "127.0.0.1",
    "[::1]",
    *env.items("ALLOWED_HOSTS"),
]
CSRF_TRUSTED_ORIGINS = [SITE_URL]
TRUSTED_PROXIES = env.number("TRUSTED_PROXIES")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "rest_framework",
    "drf_spectacular",
    "practice.apps.PracticeConfig",
    "horses.apps.HorsesConfig",
    "scheduling.apps.SchedulingConfig",
    "billing.apps.BillingConfig",
]
# The apps whose `reckon` and `demo` rooms are loaded by string, lowest first.
HOUSE_APPS = ["practice", "horses", "scheduling", "billing"]

MIDDLEWARE = [
    "practice.middleware.request_id",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "practice.middleware.PackText",
    "practice.middleware.content_security_policy",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "practice.middleware.bounded",
    "practice.middleware.private_pages",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "practice.middleware.practice_time",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "practice.middleware.refusals",
]

ROOT_URLCONF = "practice.urls"
WSGI_APPLICATION = "practice.wsgi.application"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "practice.context.house",
            ],
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    [
                        "django.template.loaders.filesystem.Loader",
                        "django.template.loaders.app_directories.Loader",
                    ],
                )
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

# SQLite: figures and reasons in DEVELOPERS.md, 'Decisions'. No mmap_size.
_SQLITE = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": DATA_DIR / "clenchline.sqlite3",
    "CONN_MAX_AGE": None,
    "OPTIONS": {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; "
            "PRAGMA journal_size_limit=27103364; PRAGMA cache_size=-8000; "
            "PRAGMA recursive_triggers=ON;"
        ),
    },
}
_database_url = env.text("DATABASE_URL")
DATABASES: dict[str, Any] = {
    "default": dj_database_url.parse(
        _database_url, conn_max_age=600, conn_health_checks=True
    )
    if _database_url
    else _SQLITE
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "practice.User"
AUTHENTICATION_BACKENDS = ["django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "practice:sign_in"
LOGIN_REDIRECT_URL = "practice:home"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.AppDirectoriesFinder"]
MEDIA_ROOT = DATA_DIR / "media"
DOCUMENTS_ROOT = DATA_DIR / "documents"
MADE_ROOT = DATA_DIR / "made"  # made anew at any time: not backed up
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "practice.static_storage.HashedStatic"},
}
# Without a collected manifest (tests, DEBUG) files are served from the apps.
WHITENOISE_USE_FINDERS = DEBUG

SESSION_COOKIE_SECURE = IS_HTTPS
CSRF_COOKIE_SECURE = IS_HTTPS
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if IS_HTTPS and TRUSTED_PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 4000
MOST_UPLOAD_BYTES = 120_000_000  # a record's photos sent at once

TILE_URL = env.text("TILE_URL")
TILE_CREDIT = env.text("TILE_CREDIT")
ROAD_ENGINE = env.text("ROAD_ENGINE")
ROAD_ENGINE_URL = env.text("ROAD_ENGINE_URL")
ROADS_ROOT = DATA_DIR / "roads"

EMAIL_HOST = env.text("EMAIL_HOST")
EMAIL_PORT = env.number("EMAIL_PORT")
EMAIL_HOST_USER = env.text("EMAIL_USER")
EMAIL_HOST_PASSWORD = env.text("EMAIL_PASSWORD")
EMAIL_USE_TLS = env.flag("EMAIL_TLS")
EMAIL_FROM = env.text("EMAIL_FROM")
EMAIL_TIMEOUT = 20
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_BACKEND = (
    "django.core.mail.backends.smtp.EmailBackend"
    if EMAIL_HOST
    else "django.core.mail.backends.filebased.EmailBackend"
)

# Jobs and attachments of the outbox, by dotted name: the lower app calls no upper.
OUTBOX_JOBS = {
    "sign_in_link": "practice.services.sign_in.send_link_job",
    "render_invoice": "billing.services.renditions.render_job",
    "issue_drafts": "billing.services.month_end.step_job",
    "make_books_file": "billing.services.files.make_job",
    "tidy_books_files": "billing.services.files.tidy_job",
    "nudge_payers": "billing.services.collecting.nudge_job",
    "refresh_due_windows": "horses.services.intervals.nightly_job",
    "drop_ended_sessions": "practice.services.nightly.drop_ended_sessions",
    "propose_weeks": "scheduling.services.proposals.propose_job",
    "read_road_map": "scheduling.services.roadmaps.read_job",
    "fetch_drives": "scheduling.services.roadmaps.fetch_job",
    "plan_reminders": "scheduling.services.reminders.plan_job",
    "remind_client": "scheduling.services.reminders.remind_client_job",
}
# Those of them that take seconds: outside a transaction, with a lease that they renew.
OUTBOX_LONG_JOBS = {
    *("propose_weeks", "read_road_map", "fetch_drives", "refresh_due_windows"),
    "make_books_file",
}
OUTBOX_ATTACHMENTS = {
    "invoice": "billing.services.renditions.attachment",
    "receipt": "billing.services.receipts.attachment",
}
# What the apps above look at for ``manage.py doctor``, by dotted name.
DOCTOR_LOOKS = ["billing.selectors.ledger.doctor_says"]
# What a worker loads after its fork, by dotted name, so that the first job is quick.
WARMED_AFTER_FORK = ["billing.pdf.prewarm"]
# What tells the worker, after commit, that a row waits; empty: it finds out by itself.
OUTBOX_BELL = "practice.tasks.ring"
# What the apps above put into a practice that has just been opened, by dotted name.
PRACTICE_OPENED = ["horses.services.works.propose_works"]
# What follows, in the same transaction, from a changed field of the practice.
PRACTICE_CHANGED = [
    "horses.services.horses.practice_changed",
    "billing.services.charges.practice_changed",
]
# Where each role lands after signing in, by URL name.
HOME_BY_ROLE = {
    "farrier": "scheduling:today",
    "apprentice": "scheduling:today",
    "office": "scheduling:today",
    "owner": "horses:my_horses",
    "barn_contact": "horses:barn_visits",
}

REDIS_URL = env.text("REDIS_URL")
_BROKER = DATA_DIR / "broker"
CELERY_BROKER_URL = REDIS_URL or "filesystem://localhost/"
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any] = (
    {
        "visibility_timeout": 3600,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
        "socket_connect_timeout": 3,  # a page that rings does not hang on Redis
    }
    if REDIS_URL
    else {
        "data_folder_in": str(_BROKER),
        "data_folder_out": str(_BROKER),
        "control_folder": str(_BROKER / "control"),
    }
)
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA_DIR / "beat")
CELERY_BEAT_SCHEDULE: dict[str, Any] = {
    "sweep the outbox": {
        "task": "practice.tasks.sweep",
        "schedule": 10.0,
        "options": {"expires": 10},
    },
    "queue the night's work": {
        "task": "practice.tasks.nightly",
        "schedule": 3600.0,
        "options": {"expires": 600},
    },
}
# Jobs queued once a day, keyed by the practice's day, by the nightly task.
# In this order: who is reminded follows from the windows.
NIGHTLY_JOBS = [
    *("refresh_due_windows", "plan_reminders", "nudge_payers"),
    "fetch_drives",
    *("drop_ended_sessions", "tidy_books_files"),
]

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "practice.api.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["practice.access.NobodyYet"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_PAGINATION_CLASS": "practice.api.pages.Pages",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "practice.problems.problem_details",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Clenchline",
    "DESCRIPTION": "A travelling farrier's practice: record, reckoning, paperwork.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    # Sets of choices that share a field's name, each by its own.
    "ENUM_NAME_OVERRIDES": {
        "ClientKind": "practice.models.Client.Kind",
        "WorkKind": "horses.models.Work.Kind",
        "HorseStatus": "horses.models.Horse.Status",
        "VisitKind": "horses.models.Visit.Kind",
        "VisitState": "horses.models.Visit.State",
        "FindingKind": "horses.serializers.visits.FINDING_KINDS",
        "InvoiceKind": "billing.models.Invoice.Kind",
        "InvoiceState": "billing.models.Invoice.State",
    },
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "practice.api.schema.add_problems",
    ],
}

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}
    },
    "filters": {"hide_tokens": {"()": "practice.logs.HideTokens"}},
    "handlers": {
        "lines": {
            "class": "logging.StreamHandler",
            "formatter": "line",
            "filters": ["hide_tokens"],
        }
    },
    "root": {"handlers": ["lines"], "level": "INFO"},
    "loggers": {
        "weasyprint": {"level": "ERROR"},
        "fontTools": {"level": "ERROR"},
        # It writes out the line of the bank that it can't read: whose, and what for.
        "mt940": {"level": "CRITICAL"},
    },
}
