"""The tool's conversation without a person: a simulated engine, and a simulated technician who is heard as sound."""
