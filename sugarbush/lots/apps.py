from django.apps import AppConfig


class LotsConfig(AppConfig):
    name = "sugarbush.lots"
    label = "lots"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.lots import access, closing  # noqa: F401  # access fills the table of who may do what
        from sugarbush.seasons import closing as season_closing

        for check in closing.CHECKS:
            season_closing.register(check.__name__, check)
