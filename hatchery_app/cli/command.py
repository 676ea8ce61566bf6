"""The hatchery command: what it takes, and which of its verbs does what."""

import os
from pathlib import Path
from typing import Any

import click

from hatchery_app import __version__, locations
from hatchery_app.cli import copies
from hatchery_app.cli.demo import MARKER, clear_demo, demo_day, is_loaded, load_into
from hatchery_app.cli.in_use import nobody_serving
from hatchery_app.cli.score import print_score
from hatchery_app.cli.serving import serve
from hatchery_app.cli.tables import bring_up_to_date
from hatchery_app.settings import Settings, SettingsRefused, read_settings


def _else_the_groups(context: click.Context, option: click.Parameter, value: Any) -> Any:
    """Said before the verb is said as well: `hatchery --folder room restore` means that room."""
    if value is None and context.parent is not None and option.name is not None:
        return context.parent.params.get(option.name)
    return value


FOLDER = click.option(
    "--folder", type=click.Path(path_type=Path), callback=_else_the_groups,
    help="Where the room's records are kept; HATCHERY_FOLDER unless said.",
)  # fmt: skip
HOST = click.option(
    "--host", callback=_else_the_groups, help="Address to serve on; 127.0.0.1 unless said."
)
PORT = click.option(
    "--port", type=click.IntRange(1, 65535), callback=_else_the_groups, help="Port to serve on."
)


@click.group(invoke_without_command=True)
@FOLDER
@HOST
@PORT
@click.version_option(__version__, prog_name="hatchery")
@click.pass_context
def main(context: click.Context, folder: Path | None, host: str | None, port: int | None) -> None:
    """Keep a hatchery's day-book. Alone, it serves the room of the records folder."""
    if context.invoked_subcommand is None:
        settings = opened(folder, host=host, port=port)
        serve(settings)


@main.command()
@FOLDER
@HOST
@PORT
def demo(folder: Path | None, host: str | None, port: int | None) -> None:
    """Make the made-up hatchery, dated back from today, and serve it."""
    settings = opened_demo(folder, host=host, port=port)
    serve(settings)


@main.command()
@FOLDER
@click.argument("to", type=click.Path(path_type=Path, dir_okay=False), required=False)
def backup(folder: Path | None, to: Path | None) -> None:
    """Make a sound copy of the records now, to TO or beside the daily copies."""
    click.echo(f"Copied to {copies.back_up(opened(folder), to)}")


@main.command()
@FOLDER
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def restore(folder: Path | None, file: Path) -> None:
    """Put the copy FILE in the place of the records. The present ones are kept aside."""
    settings = _settings(folder)
    with nobody_serving(settings.folder):
        aside = copies.restore(settings, file)
    click.echo(f"Restored from {file}.")
    if aside is not None:
        click.echo(f"What stood there before is kept in {aside}")


@main.command()
@FOLDER
def score(folder: Path | None) -> None:
    """Say how right the hatch forecasts have been, each as of the evening before."""
    print_score(opened(folder))


@main.command()
@FOLDER
@click.pass_context
def check(context: click.Context, folder: Path | None) -> None:
    """Say in one line whether file and books are sound; exit 1 with what is wrong."""
    is_sound, line = copies.checked(_settings(folder))
    click.echo(line)
    context.exit(0 if is_sound else 1)


def _folder_of_the_environment() -> Path | None:
    named = os.environ.get("HATCHERY_FOLDER")
    return Path(named) if named else None


def opened_demo(folder: Path | None, *, host: str | None, port: int | None) -> Settings:
    """The demo's settings; its records are made anew when they are of another day or program.

    Ends the command over a folder that holds a room's own records.
    """
    settings = _settings(folder, host=host, port=port, demo=True)
    begun = settings.folder / MARKER
    if (settings.folder / "hatchery.db").exists() and not begun.exists():
        raise click.ClickException(
            f"{settings.folder} holds a room's own records. The demo makes its records anew each "
            "day, so it wants another --folder."
        )
    if not is_loaded(settings.folder, demo_day(settings)):
        with nobody_serving(settings.folder):
            clear_demo(settings.folder)
            begun.write_text("begun")  # a load that is cut off may be cleared away next time
            settings = opened(folder, host=host, port=port, demo=True)
            click.echo("Making the demo's three months of records …")
            load_into(settings)
        return settings
    return opened(folder, host=host, port=port, demo=True)


def opened(
    folder: Path | None, *, host: str | None = None, port: int | None = None, demo: bool = False
) -> Settings:
    """Settings over up-to-date tables; a refusal ends the command with its sentence."""
    settings = _settings(folder, host=host, port=port, demo=demo)
    try:
        bring_up_to_date(settings)
    except SettingsRefused as refused:
        raise click.ClickException(str(refused)) from refused
    except OSError as reason:
        raise click.ClickException(
            f"The records in {settings.folder} cannot be opened: {reason.strerror}."
        ) from reason
    return settings


def _settings(
    folder: Path | None, *, host: str | None = None, port: int | None = None, demo: bool = False
) -> Settings:
    try:
        return read_settings(
            os.environ,
            folder=folder or _folder_of_the_environment() or locations.records_folder(demo=demo),
            host=host, port=port, demo=demo,
        )  # fmt: skip
    except SettingsRefused as refused:
        raise click.ClickException(str(refused)) from refused
