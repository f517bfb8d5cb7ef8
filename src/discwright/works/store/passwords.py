"""Passwords: what one must be, and its hash (argon2id), which is slow on purpose and made by two at once at most."""

from __future__ import annotations

import secrets
from functools import cache
from threading import BoundedSemaphore
from typing import TYPE_CHECKING

from discwright.errors import CallError

if TYPE_CHECKING:
    from argon2 import PasswordHasher

#: argon2id, 46 MiB, three passes, one lane: more than twice the least that OWASP names (19 MiB, two, one).
MEMORY_KIB, PASSES, LANES = 46 * 1024, 3, 1
#: Hashes made at once: forty people who sign in together take no more than 92 MiB.
AT_ONCE = 2
LEAST_LETTERS, MOST_LETTERS = 8, 256
#: Guesses a password must withstand, as a power of ten: with the delays after failures nobody tries so many.
LEAST_GUESSES_LOG10 = 8.0
#: Words of this house that anybody would try.
OUR_WORDS = (
    "discwright", "works", "lacquer", "master", "mother", "stamper", "plating", "press", "packing", "engineer",
    "keeper", "reader", "record", "vinyl", "nickel", "silver",
)  # fmt: skip
#: The strength is judged by so many letters; beyond them it would take long and change nothing.
_JUDGED_LETTERS = 72
_turn = BoundedSemaphore(AT_ONCE)


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher, Type

    return PasswordHasher(time_cost=PASSES, memory_cost=MEMORY_KIB, parallelism=LANES, type=Type.ID)


@cache
def nobodys_hash() -> str:
    """A hash that no password fits, so that an unknown name takes as long as a known one."""
    return hash_password(secrets.token_urlsafe(32))


def hash_password(password: str) -> str:
    """The hash under which a password is kept.

    Parameters
    ----------
    password : str
    """
    with _turn:
        return _hasher().hash(password)


def fits(kept: str, password: str) -> bool:
    """A password is the one that was kept.

    Parameters
    ----------
    kept : str
        Of :func:`hash_password`.
    password : str
    """
    from argon2.exceptions import InvalidHashError, VerificationError

    with _turn:
        try:
            return _hasher().verify(kept, password[: MOST_LETTERS + 1])
        except (VerificationError, InvalidHashError):
            return False


def is_old(kept: str) -> bool:
    """A hash was made with other numbers than today's, and is made anew at the next sign-in.

    Parameters
    ----------
    kept : str
    """
    return _hasher().check_needs_rehash(kept)


def check_new(password: str, name: str) -> None:
    """Refuse a password that somebody would guess.

    Parameters
    ----------
    password : str
        Any letters; none is asked for.
    name : str
        Of the person.

    Raises
    ------
    CallError
    """
    from zxcvbn import zxcvbn  # type: ignore[import-untyped]

    if not LEAST_LETTERS <= len(password) <= MOST_LETTERS:
        raise CallError(f"a password has from {LEAST_LETTERS} to {MOST_LETTERS} letters; four words in a row are good.")
    near = [name, name.replace(" ", ""), *name.split(), *OUR_WORDS]
    if zxcvbn(password[:_JUDGED_LETTERS], near)["guesses_log10"] < LEAST_GUESSES_LOG10:
        raise CallError("this password would soon be guessed; take a longer one, four words in a row are good.")
