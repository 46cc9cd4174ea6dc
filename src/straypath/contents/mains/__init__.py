"""The mains comb: where it is looked for, how it is fitted, and what is reported of it."""
