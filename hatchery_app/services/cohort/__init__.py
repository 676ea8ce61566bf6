"""Cohort, recorded and answered: lengths, grades, what is set aside, who left."""
