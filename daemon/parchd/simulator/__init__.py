"""Seasons of tensiometer records whose truth is known: weather, soil, farmer, instruments, faults and gateways."""
