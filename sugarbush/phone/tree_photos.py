"""What a tree looks like, small enough to be taken along on a round."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import OuterRef, Subquery
from django.http import Http404, HttpResponse
from django.views.decorators.http import require_GET

from sugarbush.parts.uploads import small_image
from sugarbush.trees.models import Tree, TreeObservation
from sugarbush.trees.views.finding import tree_page
from sugarbush.volunteers.views_help import SignedInRequest

LONGEST_PX = 224  # 92 px on the screen of a good phone, about 8 kB


def newest(tree_ids: Iterable[int]) -> dict[int, int]:
    """Tree to the newest look at it that has a photo; one query."""
    looks = TreeObservation.objects.filter(tree=OuterRef("pk")).exclude(photo="").order_by("-date", "-pk")
    rows = Tree.objects.filter(pk__in=tree_ids).annotate(seen=Subquery(looks.values("pk")[:1])).order_by()
    return {pk: seen for pk, seen in rows.values_list("pk", "seen") if seen is not None}


@tree_page("trees.see")
@require_GET
def tree_photo(request: SignedInRequest, tree: Tree) -> HttpResponse:
    """The newest photo of a tree, small. The phone asks with the look in the query, so it may be kept for ever."""
    look = tree.observations.exclude(photo="").order_by("-date", "-pk").first()
    if look is None:
        raise Http404
    response = HttpResponse(small_image(look.photo, LONGEST_PX), content_type="image/jpeg")
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    return response
