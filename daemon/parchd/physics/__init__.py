"""Pure physics of water, air, transducers and tubes; every formula takes floats or NumPy arrays."""
