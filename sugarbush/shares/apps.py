from django.apps import AppConfig


class SharesConfig(AppConfig):
    name = "sugarbush.shares"
    label = "shares"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.seasons import closing as season_closing
        from sugarbush.shares import access, closing, leaving  # noqa: F401  # access fills the table of who may do what
        from sugarbush.volunteers import forgetting

        for name in ("open_queries", "run_underway", "not_shared_out", "jars_waiting"):
            season_closing.register(name, getattr(closing, name))
        forgetting.register_copy(leaving.name_put_right)
