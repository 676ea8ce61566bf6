"""By which names the pages answer. A page elsewhere can point a name of its own at this machine
and so read the records from a keeper's browser; an address or a name of the house cannot lie so."""

from ipaddress import ip_address

from flask import Flask, abort, request

from hatchery_app.settings import Settings, own_names

ALWAYS = ("localhost",)


def setup(app: Flask) -> None:
    """Look at the name of every request before anything else does."""
    settings: Settings = app.config["HATCHERY"]
    names = frozenset((*ALWAYS, *own_names(), settings.host.lower(), *settings.host_names))

    @app.before_request
    def _look_at_the_name() -> None:
        if not is_ours(request.host, names):
            abort(
                403,
                "These pages do not answer to that name. Open them by this machine's address, "
                "or name it in HATCHERY_HOST_NAMES.",
            )


def is_ours(host: str, names: frozenset[str]) -> bool:
    """Whether a Host header holds an address of numbers, or one of these names."""
    name = host.rsplit(":", 1)[0] if not host.endswith("]") and ":" in host else host
    name = name.strip("[]").rstrip(".").lower()
    try:
        ip_address(name)
    except ValueError:
        return name in names
    return True
