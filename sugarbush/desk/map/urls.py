"""The map, its answers to its own script, and the acts on chosen trees."""

from django.urls import path

from sugarbush.desk.map import acts, views

urlpatterns = [
    path("map/", views.map_page, name="map"),
    path("map/trees.json", views.trees_json, name="map-trees"),
    path("map/streets.json", views.streets_json, name="map-streets"),
    path("map/codes.json", views.codes_json, name="map-codes"),
    path("map/find/", views.find_places, name="map-find"),
    path("map/tree/<tag:code>/", views.tree_card, name="map-card"),
    path("map/tree/<int:number>/", views.tree_card_by_number, name="map-card-by-number"),
    path("map/ask/", acts.ask_for_trees, name="map-ask"),
    path("trees/group/", acts.group_trees, name="trees-group"),
    path("trees/consider/", acts.consider_trees, name="trees-consider"),
]
