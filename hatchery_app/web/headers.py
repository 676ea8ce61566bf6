"""What every answer carries: nothing from elsewhere, nothing inline, framed by nobody."""

from flask import Flask, Response

POLICY = "; ".join(
    (
        "default-src 'none'", "script-src 'self'", "style-src 'self'",
        "img-src 'self' data: blob:", "connect-src 'self'", "font-src 'self'",
        "manifest-src 'self'", "worker-src 'self'", "form-action 'self'", "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)  # fmt: skip


def setup(app: Flask) -> None:
    """Add the headers to every answer."""
    app.after_request(_add)


def _add(answer: Response) -> Response:
    answer.headers.setdefault("Content-Security-Policy", POLICY)
    answer.headers.setdefault("X-Content-Type-Options", "nosniff")
    answer.headers.setdefault("Referrer-Policy", "same-origin")
    answer.headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
    answer.headers.setdefault(
        "Permissions-Policy", "camera=(self), geolocation=(), microphone=()"
    )
    if answer.mimetype == "text/html":
        answer.headers.setdefault("Cache-Control", "no-store")
    return answer
