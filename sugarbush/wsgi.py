"""The door gunicorn comes in by."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sugarbush.settings")
application = get_wsgi_application()
