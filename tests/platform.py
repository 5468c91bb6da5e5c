"""A learning platform, for tests: one page with an independent run-time of SCORM and the package in
a frame, served from this machine alone. What it has kept of a sitting is given to the next."""

from __future__ import annotations

import io
import json
import threading
import zipfile
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any

from tests.fetched import needed
from tests.players import SCORM_RUN_TIME

SCRIPTS = {"1.2": "scorm12.js", "2004": "scorm2004.js"}
_PAGE = """<!doctype html><meta charset="utf-8"><title>A platform</title>
<link rel="icon" href="data:,">
<style>html, body, iframe {{ margin: 0; border: 0; width: 100%; height: 100%; }}</style>
<script src="/run-time.js"></script>
<script>
window.{name} = new {kind}({{ autocommit: false, logLevel: 4 }});
const kept = {kept};
if (kept) window.{name}.loadFromJSON(kept);
</script>
<iframe id="package" src="/package/{start}"></iframe>
"""
_NAMES = {"1.2": ("API", "Scorm12API"), "2004": ("API_1484_11", "Scorm2004API")}
_KINDS = {".html": "text/html", ".js": "text/javascript", ".xml": "application/xml"}


class Platform:
    """Serves a package of a SCORM version at ``address``; ``kept`` is what the run-time gave back
    after the sitting before, None for none."""

    def __init__(self, package: bytes, version: str, start: str) -> None:
        self.version, self.start = version, start
        self.kept: Any = None
        self.files = zipfile.ZipFile(io.BytesIO(package))
        self._run_time = (needed(SCORM_RUN_TIME) / "dist" / SCRIPTS[version]).read_bytes()
        platform = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                found = platform.answer(self.path)
                self.send_response(200 if found else 404)
                kind = _KINDS.get(self.path[self.path.rfind(".") :], "text/html")
                self.send_header("Content-Type", f"{kind}; charset=utf-8")
                self.end_headers()
                self.wfile.write(found or b"")

            def log_message(self, format: str, *values: object) -> None:
                """Nothing is said."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.address = f"http://127.0.0.1:{self._server.server_port}/"
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)

    @property
    def api(self) -> str:
        """The name of the run-time's object."""
        return _NAMES[self.version][0]

    def answer(self, path: str) -> bytes | None:
        if path == "/":
            name, kind = _NAMES[self.version]
            kept = json.dumps(self.kept).replace("<", "\\u003c")
            return _PAGE.format(name=name, kind=kind, kept=kept, start=self.start).encode()
        if path == "/run-time.js":
            return self._run_time
        name = path.removeprefix("/package/")
        return self.files.read(name) if name in self.files.namelist() else None

    def __enter__(self) -> Platform:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
