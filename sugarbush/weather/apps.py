from django.apps import AppConfig


class WeatherConfig(AppConfig):
    name = "sugarbush.weather"
    label = "weather"
    default_auto_field = "django.db.models.BigAutoField"
