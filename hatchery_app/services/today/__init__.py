"""Today, answered: the day's work, what the keeper said to it, tonight, the calendar."""
