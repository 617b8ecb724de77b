from django.apps import AppConfig


class VolunteersConfig(AppConfig):
    name = "sugarbush.volunteers"
    label = "volunteers"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.volunteers import devices

        devices.listen()
