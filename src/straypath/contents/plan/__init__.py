"""Which recording answers a question, and which questions a recording answers."""
