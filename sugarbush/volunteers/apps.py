from django.apps import AppConfig


class VolunteersConfig(AppConfig):
    name = "sugarbush.volunteers"
    label = "volunteers"
    default_auto_field = "django.db.models.BigAutoField"
