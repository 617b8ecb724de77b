"""Checks what an authenticator answered. A program of its own: one question as JSON in, one answer as JSON out.

The library it needs takes 14 MB once it is loaded, as much as a whole worker may still grow; here they are given back
as soon as the answer is out. Knows neither Django nor the database; run by passkeys.py.
"""

from __future__ import annotations

import json
import sys
from typing import Any


def check(question: dict[str, Any]) -> dict[str, Any]:
    """{"count": ..., "id": ..., "attested": ...} of a good answer, {"wrong": why} of any other.

    question: rp_id, rp_name, origin, challenge (base64url), response (as the browser's PublicKeyCredential gives it);
    for signing in also attested (base64url), the credential as it was told when it was added.
    """
    from fido2.server import Fido2Server
    from fido2.utils import websafe_decode, websafe_encode
    from fido2.webauthn import AttestedCredentialData, AuthenticatorData, PublicKeyCredentialRpEntity

    rp = PublicKeyCredentialRpEntity(id=question["rp_id"], name=question["rp_name"])
    server = Fido2Server(rp, verify_origin=lambda origin: origin == question["origin"])
    state = {"challenge": question["challenge"], "user_verification": "required"}
    response = question["response"]
    try:
        if "attested" in question:
            known = AttestedCredentialData(websafe_decode(question["attested"]))
            server.authenticate_complete(state, [known], response)
            told = AuthenticatorData(websafe_decode(response["response"]["authenticatorData"]))
        else:
            told = server.register_complete(state, response)
            if told.credential_data is None:
                return {"wrong": "no key"}
            known = told.credential_data
            if known.public_key.ALGORITHM not in question["algorithms"]:
                return {"wrong": "a kind of key that was not asked for"}
        return {
            "count": told.counter,
            "id": websafe_encode(known.credential_id),
            "attested": websafe_encode(bytes(known)),
        }
    except Exception as wrong:  # whatever a stranger sends, it is only ever a wrong answer
        return {"wrong": f"{type(wrong).__name__}: {wrong}"[:200]}


if __name__ == "__main__":
    json.dump(check(json.load(sys.stdin)), sys.stdout)
