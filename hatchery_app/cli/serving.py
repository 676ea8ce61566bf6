"""Serving the pages: on this machine only until the owner's password is set."""

import signal
from types import FrameType
from wsgiref.types import WSGIApplication

import click
import waitress

from hatchery_app import clock
from hatchery_app.app import create_app
from hatchery_app.cli.copies import copy_at_start
from hatchery_app.cli.in_use import serving
from hatchery_app.database import db
from hatchery_app.services.records import account, records_copies
from hatchery_app.settings import (
    ANY_ADDRESS,
    Settings,
    SettingsRefused,
    lan_address,
    refuse_shared_folder,
)

THREADS = 8


def serve(settings: Settings) -> None:
    """Serve until stopped. Prints folder and address; a refusal ends the command."""
    with serving(settings.folder):
        _serve(settings)


def _serve(settings: Settings) -> None:
    app = create_app(settings)
    with app.app_context():
        has_owner = account.find_owner(db.session()) is not None
        db.session.remove()
    _refuse(settings, has_owner)
    copy_at_start(settings, clock.now())
    server = _listening(app, settings)
    _say(settings)
    signal.signal(signal.SIGTERM, _stop)
    try:
        server.run()  # returns on the stop signal, once the answers under way are given
    finally:
        server.close()
        with app.app_context():
            db.engine.dispose()
        if settings.database_file is not None:
            records_copies.empty_the_log(settings.database_file)


def _refuse(settings: Settings, has_owner: bool) -> None:
    if settings.is_sqlite:
        try:
            refuse_shared_folder(settings.folder)
        except SettingsRefused as refused:
            raise click.ClickException(str(refused)) from refused
    if settings.is_served_here_only:
        return
    if settings.demo:
        raise click.ClickException(
            "The demo signs everybody in as its owner, so it is served on 127.0.0.1 only."
        )
    if not has_owner:
        raise click.ClickException(
            f"Nobody has set the owner's password yet, so anyone who reaches {settings.host} "
            "could. Start without --host, answer the first page on this machine, then start "
            f"again with --host {settings.host}."
        )


def _listening(app: WSGIApplication, settings: Settings):  # type: ignore[no-untyped-def]
    try:
        return waitress.create_server(
            app, host=settings.host, port=settings.port, threads=THREADS, ident="hatchery",
            clear_untrusted_proxy_headers=True,
        )  # fmt: skip
    except OSError as reason:
        raise click.ClickException(
            f"{settings.host}:{settings.port} cannot be served ({reason.strerror or reason}). "
            "Is the program running already? Another --port would do."
        ) from reason


def _say(settings: Settings) -> None:
    click.echo(f"Records: {settings.folder}")
    if settings.demo:
        click.echo("The demo: a made-up hatchery; you are signed in as its owner.")
    if settings.host not in ANY_ADDRESS:
        click.echo(f"Pages:   http://{settings.host}:{settings.port}/")
        return
    click.echo(f"Pages:   http://127.0.0.1:{settings.port}/")
    in_the_house = lan_address()
    if in_the_house is not None:
        click.echo(f"Tablet:  http://{in_the_house}:{settings.port}/")


def _stop(_signal: int, _frame: FrameType | None) -> None:
    raise SystemExit(0)
