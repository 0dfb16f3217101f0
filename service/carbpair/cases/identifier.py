"""Random identifiers and secret tokens."""

import hashlib
import secrets

# Crockford's base 32 without letters that are misread on a phone or aloud.
ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
ID_LENGTH = 12  # 60 random bits: names a row, never grants anything by itself
TOKEN_BYTES = 32


def new_id() -> str:
    """Return a fresh identifier of ID_LENGTH characters."""
    return "".join(secrets.choice(ALPHABET) for _ in range(ID_LENGTH))


def is_id(text: str) -> bool:
    """Say whether `text` has the form of an identifier."""
    return len(text) == ID_LENGTH and all(character in ALPHABET for character in text)


def new_token() -> str:
    """Return a fresh URL-safe secret of 256 random bits."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def digest(token: str) -> str:
    """Return the SHA-256 of `token` in hex, the only form in which a token is stored.

    A plain hash is enough here: a token of 256 random bits cannot be searched for, unlike a
    password.
    """
    return hashlib.sha256(token.encode()).hexdigest()
