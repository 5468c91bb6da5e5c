"""Names that nobody can guess, and short ones that a class can type."""

from __future__ import annotations

import hmac
import re
import secrets
from hashlib import sha256

# No vowels, so that no word comes up, and no signs that look like another one.
CODE_SIGNS = "CDFHJKMNPRTVWXY34679"
CODE_LENGTH = 5
_PUPIL = re.compile(r"[A-Za-z0-9_-]{22}")


def new_code() -> str:
    """A code to join a lesson by: one of 3.2 million."""
    return "".join(secrets.choice(CODE_SIGNS) for _ in range(CODE_LENGTH))


def read_code(typed: str) -> str:
    """A code as it was meant, however it was typed."""
    return re.sub(r"[^A-Z0-9]", "", typed.upper())[: CODE_LENGTH + 1]


def new_key() -> str:
    """The teacher's secret: 128 bits."""
    return secrets.token_urlsafe(16)


def same(given: str, secret: str) -> bool:
    """Whether a secret was given, in a time that tells nothing about it."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), secret.encode())


def cookie_name(secret: str) -> str:
    """The name of the cookie that holds a secret. Cookies do not know ports, so that two servers
    on one machine need two names."""
    return f"teacher-{sha256(secret.encode()).hexdigest()[:8]}"


def new_pupil() -> str:
    """Who a pupil is in one lesson: 128 random bits and nothing else."""
    return secrets.token_urlsafe(16)


def is_pupil(given: str) -> bool:
    """Whether this has the form of a pupil's name."""
    return _PUPIL.fullmatch(given) is not None
