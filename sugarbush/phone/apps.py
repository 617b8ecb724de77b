from django.apps import AppConfig


class PhoneConfig(AppConfig):
    name = "sugarbush.phone"
    label = "phone"
    default_auto_field = "django.db.models.BigAutoField"
