"""The application that the web server calls."""

import os

from django.core.wsgi import get_wsgi_application

from labsite.embedded.server import hold_if_default

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")
hold_if_default()
application = get_wsgi_application()
