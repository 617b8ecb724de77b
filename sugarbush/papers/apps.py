from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "sugarbush.papers"
    label = "papers"
    default_auto_field = "django.db.models.BigAutoField"
