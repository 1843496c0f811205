"""Can a tensiometer be believed? Hours, days and neighbours looked at together."""
