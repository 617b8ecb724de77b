from django.apps import AppConfig


class KitConfig(AppConfig):
    name = "sugarbush.kit"
    label = "kit"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.kit import access  # noqa: F401  # fills the table of who may do what
