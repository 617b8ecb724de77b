from django.apps import AppConfig


class OwnersConfig(AppConfig):
    name = "sugarbush.owners"
    label = "owners"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.owners import access  # noqa: F401  # fills the table of who may do what
