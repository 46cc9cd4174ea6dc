"""Speed as ratios: each row is measured beside its reference, in turn, in one run."""
