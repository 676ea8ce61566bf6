"""Stock book, computed: counts, movements, balances, survival, and what differed at a loss."""
