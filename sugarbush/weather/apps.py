from django.apps import AppConfig


class WeatherConfig(AppConfig):
    name = "sugarbush.weather"
    label = "weather"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.weather import access  # noqa: F401  # fills the table of who may do what
