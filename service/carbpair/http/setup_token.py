"""The link for making the first login, shown in the server's terminal only."""

import hashlib
import hmac


def setup_token(secret: bytes) -> str:
    """Return the token; it works only while there is no login at all."""
    return hmac.new(secret, b"first-login", hashlib.sha256).hexdigest()[:40]


def is_setup_token(secret: bytes, token: str) -> bool:
    """Compare in constant time."""
    return hmac.compare_digest(setup_token(secret).encode(), token.encode())
