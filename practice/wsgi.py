"""The WSGI entry point."""

import os

from django.core.wsgi import get_wsgi_application

from practice.supervisor import watch_supervisor

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "practice.settings")
application = get_wsgi_application()
watch_supervisor()
