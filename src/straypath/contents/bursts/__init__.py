"""Transients of a channel, how they lie in time and in mains phase, and the level under them."""
