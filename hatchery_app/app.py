"""create_app(): the program as Flask sees it, put together in named steps."""

from flask import Flask

from hatchery_app import clock, locations, web
from hatchery_app.database import db, engine_options, prepare_engine
from hatchery_app.settings import Settings

LARGEST_POST_BYTES = 8 * 1024 * 1024


def create_app(settings: Settings) -> Flask:
    """An application over these records. The tables must be up to date already."""
    app = Flask(
        "hatchery_app",
        template_folder=str(locations.TEMPLATES),
        static_folder=str(locations.STATIC),
        instance_path=str(settings.folder),
    )
    _setup_settings(app, settings)
    _setup_database(app)
    web.setup(app)
    return app


def _setup_settings(app: Flask, settings: Settings) -> None:
    app.config.update(
        SECRET_KEY=settings.secret,
        SQLALCHEMY_DATABASE_URI=settings.database_url,
        SQLALCHEMY_ENGINE_OPTIONS=engine_options(settings),
        # A browser tells hosts apart, not ports: the demo beside a room would sign its keeper out.
        SESSION_COOKIE_NAME="demo" if settings.demo else "session",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        MAX_CONTENT_LENGTH=LARGEST_POST_BYTES,
        MAX_FORM_MEMORY_SIZE=LARGEST_POST_BYTES,  # a year of a logger's readings in one paste
        WTF_CSRF_TIME_LIMIT=None,  # a page stays open on the tablet all day
        HATCHERY=settings,
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    if settings.pretend_now is not None:
        clock.pretend(settings.pretend_now)


def _setup_database(app: Flask) -> None:
    db.init_app(app)
    with app.app_context():
        prepare_engine(db.engine)
