"""Larval tank, computed: the plan by age and warmth, stages, prey eaten, settlement."""
