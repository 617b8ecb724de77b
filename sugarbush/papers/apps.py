from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "sugarbush.papers"
    label = "papers"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.taps import tasks

        tasks.by_night("old papers", sweep)


def sweep() -> None:
    """Files of long prints go after a day. Loaded only then: most processes never print."""
    from sugarbush.papers import jobs

    jobs.sweep()
