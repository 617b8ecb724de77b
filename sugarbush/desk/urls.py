"""Pages that look across nouns."""

from django.urls import URLPattern, URLResolver, path

from sugarbush.desk import views_handbook, views_plain
from sugarbush.desk.calendar.urls import urlpatterns as calendar_urls
from sugarbush.desk.map.urls import urlpatterns as map_urls
from sugarbush.desk.owner_page.urls import urlpatterns as owner_page_urls
from sugarbush.desk.public.urls import urlpatterns as public_urls
from sugarbush.desk.today.views import today
from sugarbush.desk.tree_page.views import tree
from sugarbush.desk.views_tag import tag

urlpatterns: list[URLPattern | URLResolver] = [
    path("", today, name="today"),
    *map_urls,
    *owner_page_urls,
    *public_urls,
    *calendar_urls,
    path("trees/<tag:code>/", tree, name="tree"),
    path("t/<tag:code>/", tag, name="tag"),
    path("handbook/", views_handbook.handbook, name="handbook"),
    path("about/", views_plain.about, name="about"),
    path("cautions/", views_plain.cautions, name="cautions"),
    path("healthz", views_plain.healthz, name="healthz"),
    path("readyz", views_plain.readyz, name="readyz"),
]
