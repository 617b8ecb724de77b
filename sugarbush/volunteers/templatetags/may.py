"""Whether the reader may do something, for a way that is only shown to those who may go there."""

from django import template

from sugarbush.volunteers import access

register = template.Library()


@register.simple_tag(takes_context=True)
def may(context: template.Context, act: str) -> bool:
    """Whether the reader holds this act anywhere: `{% may "lot.trace" as may_trace %}`. Unknown acts are nobody's."""
    request = context.get("request")
    known = {entry.act for entry in access.table()}
    # A page of refusal may be drawn before anybody was asked who they are.
    person = getattr(request, "user", None)
    return person is not None and act in known and access.holds(person, act)
