from django.apps import AppConfig


class LotsConfig(AppConfig):
    name = "sugarbush.lots"
    label = "lots"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.lots import access  # noqa: F401  # access fills the table of who may do what
