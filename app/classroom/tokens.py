"""Names that nobody can guess, and short ones that a class can type."""

from __future__ import annotations

import hmac
import re
import secrets
from hashlib import sha256

from itsdangerous import BadSignature, Signer

from .finished import TaskKey

# No vowels, so that no word comes up, and no signs that look like another one.
CODE_SIGNS = "CDFHJKMNPRTVWXY34679"
CODE_LENGTH = 5
_SHOWN = "a code that was known"
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


class Names:
    """Who a pupil is in one lesson: 128 random bits and nothing else, signed, so that a name
    that this server has not made is none."""

    def __init__(self, secret: str) -> None:
        self._secret = secret

    def _signer(self, lesson: str) -> Signer:
        return Signer(self._secret, salt=f"a pupil of {lesson}")

    def shown(self, code: str) -> str:
        """The code of a lesson, signed, for somebody who has shown that they know it."""
        return Signer(self._secret, salt=_SHOWN).sign(code).decode()

    def code(self, given: str) -> str:
        """The code in what :meth:`shown` made; empty where it is not from here."""
        try:
            return (
                Signer(self._secret, salt=_SHOWN).unsign(given.encode("utf-8", "replace")).decode()
            )
        except BadSignature:
            return ""

    def proof(self, lesson: str, task: TaskKey) -> str:
        """What somebody is given whose program has done a task."""
        number, what = task
        return Signer(self._secret, salt=f"a task of {lesson}").sign(f"{number}-{what}").decode()

    def proved(self, given: str, lesson: str) -> TaskKey | None:
        """The task that a proof is for; None where it is none of this lesson's."""
        try:
            signer = Signer(self._secret, salt=f"a task of {lesson}")
            number, _, what = (
                signer.unsign(given.encode("utf-8", "replace")).decode().partition("-")
            )
        except BadSignature:
            return None
        return int(number), what

    def new(self, lesson: str) -> str:
        """A new name for a lesson, with its signature, as a cookie keeps it."""
        return self._signer(lesson).sign(secrets.token_urlsafe(16)).decode()

    def read(self, given: str, lesson: str) -> str:
        """The name in what a cookie kept; empty where it is none of this lesson's."""
        try:
            name = self._signer(lesson).unsign(given.encode("utf-8", "replace")).decode()
        except BadSignature:
            return ""
        return name if _PUPIL.fullmatch(name) else ""
