"""What the commands do with copies of the records, and with the question whether they are sound."""

import sqlite3
from datetime import datetime
from pathlib import Path

import click

from hatchery_app import clock
from hatchery_app.app import create_app
from hatchery_app.cli.tables import bring_up_to_date, check_known
from hatchery_app.database import db
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.services.records import records_check, records_copies
from hatchery_app.services.stock_book import photo_count
from hatchery_app.settings import Settings, SettingsRefused

NAMED = 5


def back_up(settings: Settings, to: Path | None) -> Path:
    """Make a copy now, to a file or beside the daily ones. Ends the command where it cannot."""
    database_file = _file_of(settings)
    try:
        if to is not None:
            wanted = records_copies.copy_to(database_file, to.expanduser().resolve())
            records_copies.copy_pictures(settings.folder, wanted.parent)
            return wanted
        return records_copies.copy_now(database_file, settings.folder, clock.now())
    except (OSError, sqlite3.Error) as reason:
        raise click.ClickException(f"No copy was made: {reason}.") from reason


def restore(settings: Settings, copy: Path) -> Path | None:
    """Put a copy in the place of the records. Returns where the present ones are kept."""
    database_file, copy = _file_of(settings), copy.expanduser().resolve()
    try:
        # Asked first: records that this program cannot open must not take the place of those
        # that it can.
        if copy.is_file() and not records_copies.file_trouble(copy):
            check_known(records_copies.tables_of(copy))
        aside = records_copies.put_back(copy, database_file, settings.folder, clock.now())
    except RuleBroken as refused:
        raise click.ClickException(refused.sentence) from refused
    except SettingsRefused as refused:
        raise click.ClickException(f"Nothing was restored. {refused}") from refused
    except (OSError, sqlite3.Error) as reason:
        raise click.ClickException(f"Nothing was restored: {reason}.") from reason
    bring_up_to_date(settings)
    return aside


def checked(settings: Settings) -> tuple[bool, str]:
    """Whether file and books are sound, and that in one line."""
    wrong: list[str] = []
    if settings.database_file is not None:
        if not settings.database_file.exists():
            return False, f"There are no records in {settings.folder}."
        wrong += records_copies.file_trouble(settings.database_file)
        if wrong:
            return False, "Not sound: " + "; ".join(wrong)
    try:
        bring_up_to_date(settings)
    except SettingsRefused as refused:
        return False, str(refused)
    app = create_app(settings)
    with app.app_context():
        books = records_check.check_books(db.session())
        lost = photo_count.wrong_photos(db.session(), settings.folder)
        db.session.remove()
        db.engine.dispose()
    if books.wrong or lost:
        return False, "Not sound: " + "; ".join((*books.wrong, *lost[:NAMED]))
    return True, f"Sound: {books.facts} facts in {books.entries} entries; {_copies(settings)}."


def copy_at_start(settings: Settings, now: datetime) -> None:
    """Today's copy, if it is not there yet. A full disk must not keep anybody from the records."""
    if settings.database_file is None or settings.demo:
        return
    try:
        made = records_copies.copy_of_the_day(settings.database_file, settings.folder, now.date())
    except (OSError, sqlite3.Error) as reason:
        click.echo(f"Today's copy of the records could not be made: {reason}.", err=True)
        return
    if made is not None:
        click.echo(f"Copy:    {made}")


def _copies(settings: Settings) -> str:
    if settings.database_file is None:
        return "copies are made by PostgreSQL's own tools"
    newest = records_copies.copies_in(settings.folder)[:1]
    return f"last daily copy of {newest[0].made_on}" if newest else "no daily copy yet"


def _file_of(settings: Settings) -> Path:
    if settings.database_file is None:
        raise click.ClickException(records_copies.OWN_TOOLS)
    return settings.database_file
