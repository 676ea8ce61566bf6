"""Species, answered: the library, the program's own and the keeper's."""
