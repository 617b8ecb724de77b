from django.apps import AppConfig


class SharesConfig(AppConfig):
    name = "sugarbush.shares"
    label = "shares"
    default_auto_field = "django.db.models.BigAutoField"
