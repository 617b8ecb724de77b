"""Where the pages about owners and permissions live."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from sugarbush.owners.views import links, listing, new, owners, slip

urlpatterns: list[URLPattern | URLResolver] = [
    path("owners/", owners.owner_list, name="owners"),
    path("owners/new/", owners.owner_new, name="owner-new"),
    path("owners/<int:owner_id>/", owners.owner, name="owner"),
    path("owners/<int:owner_id>/edit/", owners.owner_edit, name="owner-edit"),
    path("owners/<int:owner_id>/reach/", owners.owner_reach, name="owner-reach"),
    path("owners/<int:owner_id>/link/", links.owner_link_make, name="owner-link-make"),
    path("owners/<int:owner_id>/link/withdraw/", links.owner_link_withdraw, name="owner-link-withdraw"),
    path("permissions/", listing.permission_list, name="permissions"),
    path("permissions/permissions.csv", listing.permission_csv, name="permissions-csv"),
    path("permissions/new/", new.permission_new, name="permission-new"),
    path("permissions/<str:number>/", slip.permission, name="permission"),
    path("permissions/<str:number>/act/", slip.permission_act, name="permission-act"),
    path("permissions/<str:number>/change/", slip.permission_change, name="permission-change"),
    path("permissions/<str:number>/trees/", slip.permission_trees, name="permission-trees"),
    path("permissions/<str:number>/scan/", slip.permission_scan, name="permission-scan"),
]
