from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "sugarbush.notices"
    label = "notices"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.notices import access, audiences, choosing, leaving  # noqa: F401  # access fills the table
        from sugarbush.volunteers import forgetting

        for audience in choosing.AUDIENCES:
            audiences.register(audience)
        forgetting.register_copy(leaving.taken_off)
