"""The door gunicorn comes in by."""

import os

from django.conf import settings
from django.core.wsgi import get_wsgi_application

from sugarbush.parts.proxies import under_path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sugarbush.settings")
application = under_path(get_wsgi_application(), settings.PUBLIC_PATH)
