"""Cohort, computed: growth, sampled lengths, and what is free to sell."""
