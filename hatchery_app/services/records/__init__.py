"""Records: keepers, the room itself, the day-book, its corrections, its copies."""
