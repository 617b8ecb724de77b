"""Where the trees' pages live. The tree's own page ("tree") is desk's."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from sugarbush.trees.taking import views as taking
from sugarbush.trees.views import checks, doubles, edit, listing, looks, new

urlpatterns: list[URLPattern | URLResolver] = [
    path("trees/", listing.tree_list, name="trees"),
    path("trees/trees.csv", listing.tree_csv, name="trees-csv"),
    path("trees/new/", new.tree_new, name="tree-new"),
    path("trees/doubles/", doubles.tree_doubles, name="tree-doubles"),
    path("trees/<tag:code>/edit/", edit.tree_edit, name="tree-edit"),
    path("trees/<tag:code>/life/", edit.tree_life, name="tree-life"),
    path("trees/<tag:code>/look/", looks.tree_look, name="tree-look"),
    path("trees/<tag:code>/look/<int:look_id>/photo/", looks.look_photo, name="look-photo"),
    path("trees/<tag:code>/species/", looks.tree_species, name="tree-species"),
    path("trees/<tag:code>/check/", checks.tree_check, name="tree-check"),
    path("trees/<tag:code>/check/<int:check_id>/", checks.check_result, name="tree-check-result"),
    path("trees/<tag:code>/treatment/", checks.tree_treatment, name="tree-treatment"),
    path("trees/<tag:code>/merge/", doubles.tree_merge, name="tree-merge"),
    path("files/", taking.files, name="files"),
    path("files/new/", taking.file_new, name="file-new"),
    path("files/streets/", taking.streets_new, name="streets-new"),
    path("files/years/", taking.past_new, name="past-new"),
    path("files/<uuid:run_id>/", taking.file, name="file"),
    path("files/<uuid:run_id>/progress/", taking.file_progress, name="file-progress"),
    path("files/<uuid:run_id>/rows.csv", taking.file_problems, name="file-problems"),
]
