"""Today, computed: rounds of the clock, tasks with lasting names, chores, the calendar."""
