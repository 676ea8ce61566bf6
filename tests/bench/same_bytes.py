"""Serves one page's bytes from memory, by the same server: the floor a page is measured against.

    python -m tests.bench.same_bytes PORT < page.html
"""

import sys
from collections.abc import Iterable
from wsgiref.types import StartResponse, WSGIEnvironment

from waitress import serve

if __name__ == "__main__":
    page = sys.stdin.buffer.read()

    def from_memory(_environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        length = str(len(page))
        start("200 OK", [("Content-Type", "text/html"), ("Content-Length", length)])
        return [page]

    serve(from_memory, host="127.0.0.1", port=int(sys.argv[1]), threads=8, _quiet=True)
