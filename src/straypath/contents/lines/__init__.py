"""Lines that are no order of the mains: found, decided upon, and measured.

Power selects, coherence decides: a threshold on power alone calls every bump of a coloured floor
a line, whereas a line keeps its phase from end to end of the record.
"""
