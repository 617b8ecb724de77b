"""An authenticator made of software: keeps one key, and answers as WebAuthn says or wrongly where a test wants it."""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
import struct
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from fido2 import cbor

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


def text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


class Authenticator:
    """Level 2 of the standard: sections 6.1 (authenticator data), 6.5.1 (credential data), 5.8.1 (client data)."""

    def __init__(self) -> None:
        self.key = ec.generate_private_key(ec.SECP256R1())
        self.id = secrets.token_bytes(32)
        self.count = 0
        self.user = ""

    def _data(self, rp_id: str, flags: int, more: bytes = b"") -> bytes:
        return hashlib.sha256(rp_id.encode()).digest() + struct.pack(">BI", flags, self.count) + more

    def _client(self, kind: str, challenge: str, origin: str) -> bytes:
        told = {"type": f"webauthn.{kind}", "challenge": challenge, "origin": origin, "crossOrigin": False}
        return json.dumps(told).encode()

    def _answer(self, **parts: bytes) -> str:
        response = {name: text(part) for name, part in parts.items()}
        return json.dumps({"id": text(self.id), "rawId": text(self.id), "type": "public-key", "response": response})

    def create(self, asked: dict[str, Any], origin: str) -> str:
        self.user = asked["user"]["id"]
        numbers = self.key.public_key().public_numbers()
        public = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big"), -3: numbers.y.to_bytes(32, "big")}
        credential = bytes(16) + struct.pack(">H", len(self.id)) + self.id + cbor.encode(public)
        data = self._data(asked["rp"]["id"], PRESENT | VERIFIED | ATTESTED, credential)
        return self._answer(
            clientDataJSON=self._client("create", asked["challenge"], origin),
            attestationObject=cbor.encode({"fmt": "none", "attStmt": {}, "authData": data}),
        )

    def get(self, asked: dict[str, Any], origin: str, *, flags: int = PRESENT | VERIFIED, **other: str) -> str:
        client = self._client("get", other.get("challenge", asked["challenge"]), origin)
        data = self._data(other.get("rp_id", asked["rpId"]), flags)
        key = ec.generate_private_key(ec.SECP256R1()) if "forged" in other else self.key
        signature = key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(SHA256()))
        user = base64.urlsafe_b64decode(other.get("user", self.user) + "==")
        return self._answer(clientDataJSON=client, authenticatorData=data, signature=signature, userHandle=user)
