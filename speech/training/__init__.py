"""What makes the reading model: sentences, voices, noise, network, export, measurement."""
