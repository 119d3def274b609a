"""How often a wrong reading is recorded in silence, and which rule earns what."""
