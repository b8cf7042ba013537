"""Times of thermofit against baselines of the same run."""
