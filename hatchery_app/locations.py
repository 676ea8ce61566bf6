"""Where things lie: in the root of a checkout, inside the package once it is installed.

A checkout is known by the pyproject.toml beside the package. There the pages, their styles and
the made-up hatchery stand at the root, for people; the wheel carries them in the package.
"""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent
IN_CHECKOUT = (PACKAGE.parent / "pyproject.toml").is_file()
SHOWN = PACKAGE.parent if IN_CHECKOUT else PACKAGE

TEMPLATES = SHOWN / "templates"
STATIC = SHOWN / "static"
SEED_DEMO = SHOWN / "seed_demo"
SPECIES = PACKAGE / "species"
MIGRATIONS = PACKAGE / "migrations"


def records_folder(*, demo: bool = False) -> Path:
    """Where the room's records are kept when neither --folder nor HATCHERY_FOLDER says.

    A checkout keeps them in its own `instance`; an installed program in the keeper's home,
    where an upgrade of the program cannot touch them. The demo has a folder of its own within.
    """
    folder = PACKAGE.parent / "instance" if IN_CHECKOUT else Path.home() / "hatchery"
    return folder / "demo" if demo else folder
