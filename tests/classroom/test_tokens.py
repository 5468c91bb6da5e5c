"""Codes that a class can type, and secrets that nobody can guess."""

from __future__ import annotations

import re

import pytest

from app.classroom.tokens import (
    CODE_LENGTH,
    Names,
    cookie_name,
    new_code,
    new_key,
    read_code,
    same,
)


def test_codes_are_easy_to_read_out() -> None:
    codes = {new_code() for _ in range(2000)}
    assert len(codes) > 1990
    for code in codes:
        # No sign that is taken for another one, and no vowel to make a word with.
        assert len(code) == CODE_LENGTH and not re.search(r"[01258AEILOUQSGBZ]", code)


@pytest.mark.parametrize("typed", ["pk3mv", " PK3 MV ", "pk3-mv", "P.K.3.M.V"])
def test_codes_are_read_however_they_are_typed(typed: str) -> None:
    assert read_code(typed) == "PK3MV"


@pytest.mark.parametrize(
    "typed", ["", "'; DROP TABLE lesson; --", "x" * 10_000, "\u0000", "..\\.."]
)
def test_nonsense_is_short_and_harmless(typed: str) -> None:
    assert re.fullmatch(r"[A-Z0-9]{0,6}", read_code(typed))


def test_pupils_and_keys() -> None:
    names, others = Names("a secret"), Names("another secret")
    given = names.new("a lesson")
    name = names.read(given, "a lesson")
    assert re.fullmatch(r"[A-Za-z0-9_-]{22}", name) and name in given
    assert names.new("a lesson") != given
    # Neither made up, nor another lesson's or server's, nor with anything changed.
    assert not names.read(given, "other") and not others.read(given, "a lesson")
    for nonsense in ("", "x", name, f"x{given}", f"{given}x", f"{name[:-1]}.{given}", "\ud800"):
        assert not names.read(nonsense, "a lesson")
    key = new_key()
    assert same(key, key) and not same("", key) and not same(key[:-1], key)
    assert not same("\ud800", key)
    assert key not in cookie_name(key) and cookie_name(key) != cookie_name(new_key())
