"""The token that lets a device in, and the devices that are in.

Strategy: the token is shown once and kept as a hash only, as is each device's session,
so that the file tells nobody how to get in. All are 256 bits of the system's own
chance, so a plain hash is enough (nothing here can be guessed from a dictionary).
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

TOKEN_BYTES = 32
MOST_SESSIONS = 32
"""Devices let in; the one that came first has to come again. A house has fewer."""

SESSION_S = 90 * 86_400.0
"""How long a device stays in: a quarter of a year, then the token is asked again."""

LONGEST = 200
"""Characters of a token or session that are looked at; ours have 43."""


@dataclass(frozen=True, slots=True)
class Session:
    """A device that is in: the hash of its session, and since when (1970 seconds)."""

    digest: str
    since: float


class Keys:
    """One token and the sessions it gave. `path` None keeps them in memory only."""

    def __init__(self, path: Path | None, now: Callable[[], float]) -> None:
        self._path, self._now = path, now
        self._token = ""
        self._sessions: list[Session] = []

    def load(self) -> str | None:
        """Read what is kept. Returns a new token, to be shown once, if there is none.

        A file that cannot be read or understood is as if there were none: everybody
        has to come again, and nobody gets in by it. Raises OSError if the new one
        cannot be written.
        """
        try:
            kept = json.loads(self._path.read_text()) if self._path else {}
            self._token = str(kept["token"])
            self._sessions = [
                Session(str(s["digest"]), float(s["since"])) for s in kept["sessions"]
            ]
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return self.renew()
        return None

    def renew(self) -> str:
        """Make a new token; every device has to come again. Raises OSError."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        self._token, self._sessions = _digest(token), []
        self.save()
        return token

    def enter(self, token: str) -> str | None:
        """A session for whoever has the token, else None."""
        if not _same(_digest(token[:LONGEST]), self._token):
            return None
        session = secrets.token_urlsafe(TOKEN_BYTES)
        now = self._now()
        valid = [s for s in self._sessions if now - s.since < SESSION_S]
        fresh = Session(_digest(session), now)
        self._sessions = [*valid, fresh][-MOST_SESSIONS:]
        return session

    def knows(self, session: str) -> bool:
        """Whether this session is in. Compares with every one, to tell nothing."""
        digest, now = _digest(session[:LONGEST]), self._now()
        found = False
        for kept in self._sessions:
            same = _same(digest, kept.digest)
            found = found or (same and 0 <= now - kept.since < SESSION_S)
        return found

    def leave(self, session: str) -> None:
        """Forget this session."""
        digest = _digest(session[:LONGEST])
        self._sessions = [s for s in self._sessions if not _same(s.digest, digest)]

    def save(self) -> None:
        """Write what is kept, whole or not at all, for us only. Raises OSError."""
        if self._path is None:
            return
        self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = {
            "token": self._token,
            "sessions": [
                {"digest": s.digest, "since": s.since} for s in self._sessions
            ],
        }
        fresh = self._path.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(kept, file)
        fresh.replace(self._path)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _same(one: str, other: str) -> bool:
    """Compare in a time that does not depend on where they differ."""
    return hmac.compare_digest(one.encode(), other.encode("utf-8", "replace"))
