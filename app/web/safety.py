"""What every answer carries and every request must satisfy."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlsplit

from flask import Flask, Response, abort, render_template, request
from werkzeug.exceptions import HTTPException

OWN_HOSTS = ("127.0.0.1", "localhost", "[::1]")
LARGEST_BODY = 256 * 1024

# Everything comes from this server, and nothing is written into a page as script or style.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:;"
    " connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'self'"
)


def guard(app: Flask, hosts: Iterable[str]) -> None:
    """Check each request's Host and Origin, and send the policy with each answer."""
    allowed = {*OWN_HOSTS, *hosts}
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY

    @app.before_request
    def check() -> None:
        if _name(request.host) not in allowed:
            # A page elsewhere may have made its own name point here (DNS rebinding).
            abort(421, "Chalkcycle is not known by the name in this address.")
        origin = request.headers.get("Origin")
        changes = request.method not in ("GET", "HEAD", "OPTIONS")
        if changes and origin and urlsplit(origin).netloc != request.host:
            abort(403, "This was sent by a page of another site.")

    @app.after_request
    def protect(response: Response) -> Response:
        response.headers["Content-Security-Policy"] = POLICY
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "same-origin"
        return response

    @app.errorhandler(HTTPException)
    def explain(error: HTTPException) -> tuple[str, int]:
        page = render_template("error.html", error=error)
        return page, error.code or 500


def _name(host: str) -> str:
    """The host without its port."""
    return host.rsplit(":", 1)[0] if host.rsplit(":", 1)[-1].isdigit() else host
