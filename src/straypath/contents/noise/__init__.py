"""The broadband noise of a channel: its density, its white level and corner, its humps."""
