"""What is typed for a message: its text, and how its audience is narrowed."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from sugarbush.notices import audiences, mailing
from sugarbush.notices.audiences import Audience
from sugarbush.notices.kinds import NAME
from sugarbush.notices.models import Notice, NoticeState
from sugarbush.parts.forms import DayInput, UnitsForm
from sugarbush.volunteers.models import Group, Person, Role

MOST_DAYS = 400


class NoticeForm(UnitsForm):
    """One message to one audience; the audience's questions come first."""

    token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    edition = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1, max_value=2_000_000_000)
    group = forms.ModelChoiceField(label=gettext_lazy("Group"), queryset=Group.objects.none(), required=False)
    role = forms.ChoiceField(
        label=gettext_lazy("Role"), required=False, choices=[("", gettext_lazy("every role")), *Role.choices]
    )
    on = forms.DateField(label=gettext_lazy("On the day"), widget=DayInput)
    days = forms.IntegerField(label=gettext_lazy("Days"), min_value=0, max_value=MOST_DAYS)
    subject = forms.CharField(label=gettext_lazy("Subject"), max_length=120)
    body = forms.CharField(
        label=gettext_lazy("Text"),
        max_length=6_000,
        strip=True,
        widget=forms.Textarea(attrs={"rows": 14}),
        help_text=gettext_lazy("{name} becomes the name of each one. Plain text; addresses of pages may stand in it."),
    )
    short = forms.CharField(
        label=gettext_lazy("Short, for a chat or a text message"),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    reply_to = forms.EmailField(
        label=gettext_lazy("Answers by e-mail go to"),
        required=False,
        help_text=gettext_lazy("Everybody who gets the mail sees this address."),
    )

    def __init__(self, *args: Any, person: Person, audience: Audience, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.audience = audience
        for name in {"role", "on", "days"} - set(audience.asks):
            del self.fields[name]
        if audience.days_label and "days" in self.fields:
            self.fields["days"].label = audience.days_label
        reach = audiences.groups_open(person, audience)
        groups = self.fields["group"]
        assert isinstance(groups, forms.ModelChoiceField)  # noqa: S101  # tells the type checker what stands above
        if audience.whole:
            del self.fields["group"]
        else:
            groups.queryset = Group.objects.all() if reach.everything else Group.objects.filter(pk__in=reach.group_ids)
            groups.required = not reach.everything
            groups.empty_label = str(_("whole programme")) if reach.everything else None

    def clean_subject(self) -> str:
        return mailing.one_line(self.cleaned_data["subject"])

    def clean_body(self) -> str:
        body: str = self.cleaned_data["body"].replace("\r\n", "\n").replace("\r", "\n")
        if "{" in body.replace(NAME, ""):
            raise ValidationError(_("Only {name} may stand in braces; other braces would arrive as they are."))
        return body

    @property
    def values(self) -> dict[str, Any]:
        """What an action keeps."""
        data = self.cleaned_data
        narrowed = {name: data[name] for name in self.audience.asks if data.get(name) not in (None, "")}
        if "on" in narrowed:
            narrowed["on"] = narrowed["on"].isoformat()
        text = {name: data[name] for name in ("subject", "body", "short", "reply_to")}
        return {**text, "narrowed": narrowed, "group": data.get("group")}


def initial_of(notice: Notice) -> dict[str, Any]:
    """What a draft says, for the form."""
    text = {name: getattr(notice, name) for name in ("subject", "body", "short", "reply_to", "group")}
    return {**text, **notice.narrowed, "edition": notice.edition, "token": notice.uuid}


class ListForm(forms.Form):
    """Which messages a list shows."""

    state = forms.ChoiceField(
        label=gettext_lazy("State"), required=False, choices=[("", gettext_lazy("all")), *NoticeState.choices]
    )
    group = forms.ModelChoiceField(
        label=gettext_lazy("Group"), queryset=Group.objects.none(), required=False, empty_label=gettext_lazy("all")
    )

    def __init__(self, *args: Any, groups: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.fields["group"]
        assert isinstance(chosen, forms.ModelChoiceField)  # noqa: S101  # tells the type checker what stands above
        chosen.queryset = groups
        self.is_valid()
