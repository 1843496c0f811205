"""Seasons of simulated tensiometers: soil, weather, irrigation, instruments and their faults."""
