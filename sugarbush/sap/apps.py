from django.apps import AppConfig


class SapConfig(AppConfig):
    name = "sugarbush.sap"
    label = "sap"
    default_auto_field = "django.db.models.BigAutoField"
