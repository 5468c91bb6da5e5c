"""Packages of others that tests check with, where they could be fetched."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.players import NotFetched, Package, there


def needed(package: Package) -> Path:
    """The folder of a package. The test is left out, and says so, where its registry could not be
    reached: nothing else depends on that."""
    try:
        return there(package)
    except NotFetched as missing:
        pytest.skip(str(missing))
