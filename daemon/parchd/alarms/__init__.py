"""Conditions that need a response, judged on readings; pure state machines."""
