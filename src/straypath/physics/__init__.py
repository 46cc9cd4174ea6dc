"""Physics of the bench: small pure functions in SI units that never see a capture."""
