"""Parts every page is made of: tags, form fields, paging, CSV. No models."""

from django.apps import AppConfig


class PartsConfig(AppConfig):
    name = "sugarbush.parts"
    label = "parts"
