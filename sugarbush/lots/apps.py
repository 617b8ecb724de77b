from django.apps import AppConfig


class LotsConfig(AppConfig):
    name = "sugarbush.lots"
    label = "lots"
    default_auto_field = "django.db.models.BigAutoField"
