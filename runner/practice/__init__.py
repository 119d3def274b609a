"""Practice: a fault is hidden in the simulated engine, and a trainee finds it by choosing checks."""
