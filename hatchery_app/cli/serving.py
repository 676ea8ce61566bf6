"""Serving the pages: on this machine only until the owner's password is set."""

import click
import waitress

from hatchery_app.app import create_app
from hatchery_app.database import db
from hatchery_app.services import account
from hatchery_app.settings import LOOPBACK, Settings

THREADS = 8


def serve(settings: Settings) -> None:
    """Serve until stopped. Prints address and folder."""
    app = create_app(settings)
    with app.app_context():
        has_owner = account.find_owner(db.session()) is not None
        db.session.remove()
    if settings.host not in (LOOPBACK, "localhost", "::1"):
        if settings.demo:
            raise click.ClickException(
                "The demo signs everybody in as its owner, so it is served on 127.0.0.1 only."
            )
        if not has_owner:
            raise click.ClickException(
                f"Nobody has set the owner's password yet, so anyone on {settings.host} could. "
                f"Start without --host, answer the first page on this machine, then start again "
                f"with --host {settings.host}."
            )
    click.echo(f"Records: {settings.folder}")
    if settings.demo:
        click.echo("The demo: a made-up hatchery; you are signed in as its owner.")
    click.echo(f"Pages:   http://{settings.host}:{settings.port}/")
    waitress.serve(
        app, host=settings.host, port=settings.port, threads=THREADS, ident="hatchery",
        clear_untrusted_proxy_headers=True,
    )  # fmt: skip
