"""Ways in of one's own: a code sent by e-mail, and passkeys."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone


class SignInCode(models.Model):
    """One browser's request for a code by e-mail. The code itself stands nowhere: see codes.code_of.

    person is empty where the address that was typed is nobody's, or where no further mail may go to it now. Such a row
    opens nothing, and is otherwise treated alike.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("volunteers.Person", models.CASCADE, null=True, related_name="sign_in_codes")
    seed = models.CharField(max_length=32, editable=False)
    asked_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField(db_index=True)
    tries = models.PositiveSmallIntegerField(default=0)
    used_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-asked_at", "pk")

    def __str__(self) -> str:
        return f"code asked for at {self.asked_at:%H:%M}"


class Passkey(models.Model):
    """The public half of a key that a person's phone, computer or stick holds. It opens nothing by itself.

    `attested` is the credential as the authenticator told it (WebAuthn, "attested credential data"), in base64url;
    `sign_count` the highest count of uses it has told, 0 where it counts none.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("volunteers.Person", models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=60)
    credential_id = models.CharField(max_length=1400, editable=False)
    credential_hash = models.CharField(max_length=64, unique=True, editable=False)
    attested = models.TextField(editable=False)
    sign_count = models.BigIntegerField(default=0, editable=False)
    added_at = models.DateTimeField(default=timezone.now)
    used_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("added_at", "pk")

    def __str__(self) -> str:
        return self.name
