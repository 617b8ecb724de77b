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

        access.enter()
        # Every app's addresses may say <tag:code>; words such as /trees/new/ are then never taken for a tag.
        if "tag" not in get_converters():
            register_converter(TagConverter, "tag")
