from django.apps import AppConfig


class ArchiveConfig(AppConfig):
    name = "sugarbush.archive"
    label = "archive"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.archive import access as access
