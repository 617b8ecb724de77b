from django.apps import AppConfig


class ArchiveConfig(AppConfig):
    name = "sugarbush.archive"
    label = "archive"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.archive import access as access
        from sugarbush.taps.tasks import by_night

        by_night("archives", sweep)


def sweep() -> None:
    """An archive holds every name: it does not lie about until somebody asks for the next."""
    from sugarbush.archive import jobs

    jobs.sweep()
