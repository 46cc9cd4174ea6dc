"""Lines that belong together: clocks, carriers, what their rates are known for, and aliases."""
