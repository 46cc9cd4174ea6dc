"""Two channels of one capture: how they hang together, line by line and in bands."""
