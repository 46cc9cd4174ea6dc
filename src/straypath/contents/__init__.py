"""What a capture contains: the lines, the floor under them, and how sure each is."""
