"""Where programs ask, and where people make tokens for them."""

from __future__ import annotations

from django.urls import URLPattern, path, register_converter

from sugarbush.api import views_features, views_seasons, views_tokens


class AnythingConverter:
    """The rest of an address, line feeds and all."""

    regex = "(?s:.+)"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(AnythingConverter, "anything")

urlpatterns: list[URLPattern] = [
    path("me/tokens/", views_tokens.my_tokens, name="my-tokens"),
    path("api/", views_features.landing, name="api"),
    path("api/conformance", views_features.conformance, name="api-conformance"),
    path("api/openapi.json", views_features.openapi, name="api-openapi"),
    path("api/collections", views_features.collections, name="api-collections"),
    path("api/collections/trees", views_features.trees, name="api-trees"),
    path("api/collections/trees/items", views_features.items, name="api-tree-items"),
    path("api/collections/trees/items/<str:code>", views_features.item, name="api-tree-item"),
    path("api/seasons", views_seasons.seasons, name="api-seasons"),
    path("api/seasons/<int:year>/totals", views_seasons.season_totals, name="api-season-totals"),
    path("api/seasons/<int:year>/entries", views_seasons.season_entries, name="api-season-entries"),
    path("api/<anything:rest>", views_features.nothing, name="api-nothing"),
]
