"""python -m hatchery_app is the hatchery command."""

from hatchery_app.cli import main

main()
