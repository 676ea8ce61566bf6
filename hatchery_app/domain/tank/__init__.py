"""Tank, computed: states, lamps, treatments, readings of its water, a logger's column."""
