"""The day-book and planner of a small marine ornamental hatchery.

The house has floors, and the same word of the trade names the room on every floor:

    domain      computes: frozen values and pure functions, no database, no clock
    models      stores: tables, constraints, and .facts() that turn rows into domain values
    services    records and answers: one use case, one function, one transaction
    web, cli    show and start

`domain/life_cycle.py` lists the rooms in the order of a fish's life, `clutch/` is the eggs' room on
each floor. DEVELOPERS.md is the map.
"""

__version__ = "0.1.0"
