"""What is worked out before a tensiometer stands in the ground: what to cut, to buy and to expect."""
