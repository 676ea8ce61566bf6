"""Stock book, recorded and answered: every fish in and out, counts, survival, what differed."""
