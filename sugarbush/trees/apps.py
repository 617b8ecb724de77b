"""Trees: what stands where, what was seen on it, and how it gets into the list."""

from django.apps import AppConfig
from django.urls import register_converter
from django.urls.converters import get_converters


class TreesConfig(AppConfig):
    name = "sugarbush.trees"
    label = "trees"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sugarbush.trees import access
        from sugarbush.trees.codes import TagConverter
        from sugarbush.trees.queries import kinds_worked_with
        from sugarbush.weather.outlook import ask_for_kinds

        access.enter()
        ask_for_kinds(kinds_worked_with)
        # Every app's addresses may say <tag:code>; words such as /trees/new/ are then never taken for a tag.
        if "tag" not in get_converters():
            register_converter(TagConverter, "tag")
